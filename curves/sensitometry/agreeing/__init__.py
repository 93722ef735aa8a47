"""Agreement between instruments and between members.

The names that others call:

- `precision.repeatability_and_reproducibility(labels, values, left_out=) -> Precision`.
- `outlier_tests.cochran_test`, `grubbs_tests`, `cochran_critical`, `grubbs_critical`, `grubbs_pair_critical`.
"""
