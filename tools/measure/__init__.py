"""What the benches share: lots and truth, scoring, intervals, tables and result files."""
