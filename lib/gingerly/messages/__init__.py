"""Plain frozen data that the parts of the library hand to each other: no behaviour, no I/O."""
