"""Claims held against what was seen: plain functions of arrays that know no animal and no record."""
