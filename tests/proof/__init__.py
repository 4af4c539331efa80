"""The prover, proven: seeded faults, broken layouts, another encoding, and a long walk.

``python -m tests.proof faults`` seeds every fault into the core, one at a time;
``python -m tests.proof silence`` does so beside the solver's encoding of property 5;
``python -m tests.proof walk 10000000`` walks the real core; ``python -m tests.proof figures``
measures how time grows.
"""
