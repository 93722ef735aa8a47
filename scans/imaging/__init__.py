"""Imaging: a scan in, densities, grain and sharpness out, each with its interval or the reason why not.

Pure: numpy, scipy and two decoding libraries; it knows nothing of curves, of the site or of a database.

Names are imported from their modules, not from here: a decoding child process (`decode_child`) must start
quickly and in little memory, without all the numerics.

    outcome = decode_in_child(path)                      # scans.imaging.decode_child
    if outcome.picture is None: print(outcome.refusal)
    tablet = locate_tablet(outcome.picture, steps=21)    # scans.imaging.locate
    areas = read_areas(outcome.picture, tablet.areas, calibration)   # scans.imaging.density
    measure_granularity([patch, …], (4000, 4000), limits)           # scans.imaging.grain_series
    measure_edge(patch, (4000, 4000), limits)                       # scans.imaging.sharpness
    target = locate_target(outcome.picture)             # scans.imaging.locate_target
    registration(reference, target)                     # scans.imaging.register
    build_pyramid(outcome.picture, folder, calibration)             # scans.imaging.pyramid

Conventions. Rows of an array are y (downwards), columns x. Positions are (x, y) in pixels, the centre of
the first pixel at (0, 0). Levels are the numbers in the file, transmittance is a fraction of what the
clear gate lets through, density is -log10 of transmittance. A resolution of r pixels per inch is a pitch
of 25400/r micrometres. Silver is neutral: of a colour scan the green channel is measured.
"""

IMAGING_VERSION = "2"
"""Changes whenever a number that this package hands back can change; what is stored names it."""
