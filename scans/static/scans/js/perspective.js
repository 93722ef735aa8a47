// Areas that follow from four corners, by the same rule as scans/imaging/hand_placed.py, so that what is
// seen while a corner is dragged is what will be measured. Points are [x, y] in pixels of the picture.

export const READ_SHARE = 0.6;
const LEAST_AREA = 1e-6;
const WAYS = { right: [1, 0], down: [0, 1], left: [-1, 0], up: [0, -1] };

/** The ways in which steps can darken, each a quarter turn from the one before. */
export const WAYS_ROUND = Object.keys(WAYS);

/** Whether four points, in order, turn the same way at each and no three lie in a line. */
export function isQuadrilateral(corners) {
  const sides = corners.map(([x, y], i) => {
    const [u, v] = corners[(i + 1) % 4];
    return [u - x, v - y];
  });
  const least = LEAST_AREA * Math.max(...sides.map(([x, y]) => x * x + y * y));
  const turns = sides.map(([x, y], i) => {
    const [u, v] = sides[(i + 1) % 4];
    return x * v - y * u;
  });
  return turns.every((turn) => turn > least) || turns.every((turn) => turn < -least);
}

/** The perspective that carries the unit square's corners, around from (0, 0), to four points. */
function fromUnitSquare([[x0, y0], [x1, y1], [x2, y2], [x3, y3]]) {
  const [dx1, dx2, sx] = [x1 - x2, x3 - x2, x0 - x1 + x2 - x3];
  const [dy1, dy2, sy] = [y1 - y2, y3 - y2, y0 - y1 + y2 - y3];
  const whole = dx1 * dy2 - dx2 * dy1;
  const [g, h] = [(sx * dy2 - dx2 * sy) / whole, (dx1 * sy - sx * dy1) / whole];
  return (u, v) => {
    const depth = g * u + h * v + 1;
    return [
      ((x1 - x0 + g * x1) * u + (x3 - x0 + h * x3) * v + x0) / depth,
      ((y1 - y0 + g * y1) * u + (y3 - y0 + h * y3) * v + y0) / depth,
    ];
  };
}

/** Corners of an upright box, around it from the least x and y. */
function boxCorners(x, y, width, height) {
  return [
    [x, y],
    [x + width, y],
    [x + width, y + height],
    [x, y + height],
  ];
}

/** The corners in the order of a found tablet's outline: the first side runs with the darkening. */
function fromTheLightEnd(corners, way) {
  const along = corners.map(([x, y], i) => {
    const [u, v] = corners[(i + 1) % 4];
    return (u - x) * way[0] + (v - y) * way[1];
  });
  const start = along.indexOf(Math.max(...along));
  const ordered = corners.map((_, i) => corners[(start + i) % 4]);
  const across =
    (ordered[3][0] - ordered[0][0]) * Math.abs(way[1]) + (ordered[3][1] - ordered[0][1]) * Math.abs(way[0]);
  return across < 0 ? [ordered[3], ordered[2], ordered[1], ordered[0]] : ordered;
}

/** What is read of each step of a tablet: [{label, corners}], from the lightest to the densest. */
export function placeSteps(corners, steps, darkens) {
  const carry = fromUnitSquare(fromTheLightEnd(corners, WAYS[darkens]));
  const inset = (1 - READ_SHARE) / 2;
  return Array.from({ length: steps }, (_, step) => ({
    label: `step ${step + 1}`,
    corners: boxCorners((step + inset) / steps, inset, READ_SHARE / steps, READ_SHARE).map(([u, v]) =>
      carry(u, v),
    ),
  }));
}

/** What is read of each patch of a sheet whose corners are known; patches: [{label, x, y, w, h}]. */
export function placePatches(corners, sheet, patches) {
  const carry = fromUnitSquare(corners);
  const inset = (1 - READ_SHARE) / 2;
  return patches.map(({ label, x, y, w, h }) => ({
    label,
    corners: boxCorners(x + inset * w, y + inset * h, READ_SHARE * w, READ_SHARE * h).map(([u, v]) =>
      carry(u / sheet[0], v / sheet[1]),
    ),
  }));
}
