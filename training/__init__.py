"""Training of the picture network: draws its own data from the simulator, trains, exports, and is no part of the product.

Nothing here is imported by the package. `docs/recognition.md` says how a training is run and repeated.
"""
