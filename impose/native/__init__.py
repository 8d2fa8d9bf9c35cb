"""Inner loops in C, where a library of them was built; whoever uses one has a twin in Python that gives the same."""
