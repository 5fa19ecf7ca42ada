"""What the shop owns and has measured: bender, dies, tubing, materials, trial bends."""
