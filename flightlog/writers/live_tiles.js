// Map tiles below a track, where the reader asked for them: squares of the world laid where the plane has them. Those
// that do not come are left out; nothing waits for them.

const TILE_PX = 256;
const DEEPEST = 19;
const MOST_TILES = 64;

// Where a place of the square map lies on the plane.
function onPlane(tiles, x, y) {
  const u = (x - tiles.x0) / tiles.span;
  const v = (y - tiles.y0) / tiles.span;
  const place = { x: 0, y: 0 };
  tiles.powers.forEach(([i, j], term) => {
    const product = u ** i * v ** j;
    place.x += tiles.x[term] * product;
    place.y += tiles.y[term] * product;
  });
  return place;
}

// Where a place of the plane lies on the square map, by Newton's steps.
function onSquare(tiles, x, y) {
  let place = { x: tiles.x0, y: tiles.y0 };
  const step = tiles.span * 1e-4;
  for (let round = 0; round < 6; round += 1) {
    const here = onPlane(tiles, place.x, place.y);
    const east = onPlane(tiles, place.x + step, place.y);
    const south = onPlane(tiles, place.x, place.y + step);
    const [a, b, c, d] = [east.x - here.x, south.x - here.x, east.y - here.y, south.y - here.y].map((one) => one / step);
    const whole = a * d - b * c;
    const [dx, dy] = [x - here.x, y - here.y];
    place = { x: place.x + (d * dx - b * dy) / whole, y: place.y + (a * dy - c * dx) / whole };
  }
  return place;
}

// Lay the tiles of a view whose upper left corner is a place of the plane.
function layTiles(holder, tiles, corner, perPixel, width, height) {
  const corners = [[0, 0], [width, 0], [0, height], [width, height]].map(([across, down]) =>
    onSquare(tiles, corner.x + across * perPixel, corner.y - down * perPixel));
  const xs = corners.map((one) => one.x);
  const ys = corners.map((one) => one.y);
  const share = (Math.max(...xs) - Math.min(...xs)) / width; // of the world in a pixel
  let zoom = Math.max(0, Math.min(DEEPEST, Math.round(-Math.log2(share * TILE_PX))));
  const range = (values) => [Math.floor(Math.min(...values) * 2 ** zoom), Math.floor(Math.max(...values) * 2 ** zoom)];
  const count = () => (range(xs)[1] - range(xs)[0] + 1) * (range(ys)[1] - range(ys)[0] + 1);
  while (zoom > 0 && count() > MOST_TILES) zoom -= 1;
  const side = 2 ** zoom;
  const [[west, east], [north, south]] = [range(xs), range(ys)];
  const known = new Map([...holder.children].map((image) => [image.dataset.tile, image]));
  for (let row = Math.max(north, 0); row <= Math.min(south, side - 1); row += 1) {
    for (let column = west; column <= east; column += 1) {
      const name = `${zoom}/${column}/${row}`;
      const image = known.get(name) || newTile(holder, tiles, name, zoom, ((column % side) + side) % side, row);
      known.delete(name);
      const [here, right, below] = [[0, 0], [1, 0], [0, 1]].map(([across, down]) => {
        const place = onPlane(tiles, (column + across) / side, (row + down) / side);
        return { x: (place.x - corner.x) / perPixel, y: (corner.y - place.y) / perPixel };
      });
      const parts = [right.x - here.x, right.y - here.y, below.x - here.x, below.y - here.y].map((one) => one / TILE_PX);
      image.style.transform = `matrix(${[...parts, here.x, here.y].join(",")})`;
    }
  }
  for (const image of known.values()) image.remove();
}

function newTile(holder, tiles, name, zoom, column, row) {
  const image = new Image(TILE_PX, TILE_PX);
  image.alt = "";
  image.dataset.tile = name;
  image.referrerPolicy = "no-referrer";
  image.addEventListener("error", () => { image.hidden = true; });
  image.src = tiles.template.replace("{z}", zoom).replace("{x}", column).replace("{y}", row);
  holder.append(image);
  return image;
}
