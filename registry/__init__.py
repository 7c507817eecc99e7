"""What clinics send, recomputed and kept safe."""
