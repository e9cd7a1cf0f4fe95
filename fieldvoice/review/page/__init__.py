"""The review page: a small server for one keeper, on this machine."""
