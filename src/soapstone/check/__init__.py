"""What a made part must stand: wall and roundness after bending."""
