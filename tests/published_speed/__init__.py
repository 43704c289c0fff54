"""Speed: the packed events and workloads against published measurements and common practice."""
