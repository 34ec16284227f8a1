"""Numbers of published sources that the science uses: one file per source."""
