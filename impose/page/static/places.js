// Which place of a garment is meant by a point of its drawing. All lengths are millimetres of cloth.

const NEAR = 20; // so far beside a place it is still meant

const area = ({ box }) => box.w * box.h;
const beside = ({ box }, x, y) => Math.hypot(Math.max(box.x - x, 0, x - box.x - box.w), Math.max(box.y - y, 0, y - box.y - box.h));
const largest = (places) => [...places].sort((a, b) => area(b) - area(a))[0];

function inside(points, x, y) {
  let within = false;
  points.forEach(([ax, ay], at) => {
    const [bx, by] = points[(at + 1) % points.length];
    if (ay > y !== by > y && x < ax + ((y - ay) * (bx - ax)) / (by - ay)) within = !within;
  });
  return within;
}

// The smallest place that holds the point; where none does, that of the sleeve or hood that is seen there, then what
// the point is just beside, and else the face's largest: a picture let go anywhere on a back is meant for the back.
export function placeAt(faces, face, x, y) {
  const { places, seen = [] } = faces.find((one) => one.face === face);
  const held = places.filter((one) => beside(one, x, y) === 0).sort((a, b) => area(a) - area(b))[0];
  if (held) return { face, placement: held.placement };
  const other = faces.find((one) => one.places.length && seen.some((part) => part.face === one.face && inside(part.points, x, y)));
  if (other) return { face: other.face, placement: largest(other.places).placement };
  const close = places.filter((one) => beside(one, x, y) <= NEAR).sort((a, b) => beside(a, x, y) - beside(b, x, y) || area(b) - area(a))[0];
  return { face, placement: (close ?? largest(places))?.placement };
}
