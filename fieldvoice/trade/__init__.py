"""The trade's words, units, sayings and thresholds, as data a beekeeper can read and extend."""
