"""Training of the picture network: draws its own data from the simulator, trains, exports; no part of the product.

Nothing here is imported by the package. `docs/model-card.md` says how a training is run and repeated.
"""
