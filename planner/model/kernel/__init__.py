"""The march compiled: ``march.c`` tells the equations of the numpy march again, ``terms.txt`` says which.

``library`` finds and checks what was built, ``hand_over`` calls it, ``terms`` compares the two marches. Whether it is
used at all is decided in ``planner.model.march``.
"""
