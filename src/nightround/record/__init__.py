"""What is true as of a day: the journal's entries folded into animals, homes, places, larder and taxa."""
