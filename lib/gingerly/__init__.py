"""Find where the work lies on a CNC machine, by touch, without hurting the machine."""
