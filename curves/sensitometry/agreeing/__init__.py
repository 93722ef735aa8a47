"""Agreement between instruments and between members.

The names that others call:

- `precision.repeatability_and_reproducibility(labels, values, left_out=) -> Precision`.
- `outlier_tests.cochran_test`, `grubbs_tests`; their critical values in `outlier_limits`.
- `gauge_study.gauge_study(readings, method="anova" | "range") -> GaugeStudy`.
"""
