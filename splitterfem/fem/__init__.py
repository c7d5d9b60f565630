"""Numerics on arrays and meshes: panel element, ribs, restraints, contact, solution."""
