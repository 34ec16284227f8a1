"""Water in a ventilated home: air, openings, vessels, substrates, and the balance of what comes and goes."""
