"""From records to the quilt: strips, fabric, layout. Standard library and solvers only."""
