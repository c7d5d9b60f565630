"""Stresses and utilisations of panel, ribs, joints and hardware."""
