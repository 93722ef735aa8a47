"""Process control: control strips, their aims, control charts and run rules."""
