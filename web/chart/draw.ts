// The terrain chart on a canvas: the ground of ground.ts, then corrections, section line and flags.

import {layoutOf, type Layout} from './ground.ts';
import type {Ink} from './ink.ts';
import type {KeptGround} from './kept_ground.ts';
import {drawFlags, drawSectionLine, drawSpotCorrections} from './marks.ts';
import type {Scene} from './scene.ts';

export {layoutOf, type Layout};

export function drawTerrain(c: CanvasRenderingContext2D, ground: KeptGround, scene: Scene, layout: Layout, ink: Ink): void {
  const {box} = layout;
  const keep = ground.lay(c, scene, layout, ink);
  drawSpotCorrections(c, scene, box, keep, ink);
  drawSectionLine(c, scene, box, ink);
  drawFlags(c, scene, box, ink);
}
