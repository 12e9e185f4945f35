"""From many findings to the few causes behind them: noisy-OR in each clip, habits over the study."""
