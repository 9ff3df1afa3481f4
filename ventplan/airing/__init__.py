"""What the flow does in time: clearing a contaminant, age of air, cool nights, and the cautions they
cause."""
