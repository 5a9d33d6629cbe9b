"""The campaign: seeded simulated shows through the real desk, judged by the simulator's truth.

``python -m tests.campaign --shows 10000`` runs it in all processors; ``--seed N`` runs one show again and says all.
"""
