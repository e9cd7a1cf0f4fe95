"""Answers: what a keeper keeps a log for, computed from confirmed entries."""
