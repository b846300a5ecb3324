// Paints the ground of charts beside the page. The fonts of the page are not a worker's: it loads the same files itself.

import italic400 from '@fontsource/ysabeau-office/files/ysabeau-office-latin-400-italic.woff2';
import normal500 from '@fontsource/ysabeau-office/files/ysabeau-office-latin-500-normal.woff2';
import normal600 from '@fontsource/ysabeau-office/files/ysabeau-office-latin-600-normal.woff2';
import {layoutOf, paintGround} from './ground.ts';
import type {Asked, Painted} from './kept_ground.ts';
import {penOn} from './pen.ts';

/// What a dedicated worker has; the types of a page and of a worker exclude each other.
const here = self as unknown as {
  fonts?: FontFaceSet & {add(face: FontFace): void};
  location: Location;
  onmessage: ((e: MessageEvent<Asked>) => void) | null;
  postMessage(what: Painted, transfer: Transferable[]): void;
};

async function loaded(): Promise<boolean> {
  if (!here.fonts) return false;
  const faces = ([[italic400, '400', 'italic'], [normal500, '500', 'normal'], [normal600, '600', 'normal']] as const).map(
      ([file, weight, style]) => new FontFace('Ysabeau Office', `url("${new URL(file, here.location.href).href}")`, {weight, style}));
  for (const face of faces) here.fonts.add(face);
  return Promise.all(faces.map((face) => face.load())).then(() => true, () => false);
}

function paint(ask: Asked): Painted {
  const canvas = new OffscreenCanvas(...ask.pixels), pen = penOn(canvas);
  pen.setTransform(ask.pixels[0] / ask.width, 0, 0, ask.pixels[1] / ask.height, 0, 0);
  const keep = paintGround(pen, ask.scene, layoutOf(ask.width, ask.height), ask.ink);
  return {ground: ask.ground, picture: canvas.transferToImageBitmap(), keep: keep.all()};
}

const fonts = loaded();

here.onmessage = (e) => {
  void fonts.then((there) => {
    const painted: Painted = there ? paint(e.data) : {ground: e.data.ground, picture: null, keep: []};
    here.postMessage(painted, painted.picture ? [painted.picture] : []);
  });
};
