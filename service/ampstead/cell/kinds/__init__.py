"""What a kind of cell is: its constants, its open-circuit curve, its resistance."""
