"""The whole way of a recording, in the order of the rooms. Filled in as the rooms are built."""
