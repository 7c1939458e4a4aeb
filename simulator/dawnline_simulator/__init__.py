"""A pond that can be asked to misbehave: physics, a probe, its faults, and the wires it speaks on."""
