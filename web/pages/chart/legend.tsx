// What the marks mean, drawn with the rules of the chart itself.

import type {JSX} from 'preact';
import {fogLines, fogWidth} from '../../chart/fog.ts';
import {drawNode} from '../../chart/marks.ts';
import type {Scene} from '../../chart/scene.ts';
import {useCanvas} from '../../view/pieces.tsx';

export function Legend(p: {scene: Scene; name: string}): JSX.Element {
  const fog = useCanvas((c, w, h, ink) => {
    c.clearRect(0, 0, w, h);
    c.fillStyle = ink.fog;
    c.beginPath();
    fogLines({left: 0.5, top: 0.5, width: w - 1, height: h - 1}, (x) => fogWidth(2 ** (3.1 * (x / w))), c);
    c.fill();
    c.strokeStyle = ink.fog;
    c.lineWidth = 0.8;
    c.strokeRect(0.5, 0.5, w - 1, h - 1);
  }, []);
  return (
    <ul class="legend" aria-label="Legend">
      <li><svg width="44" height="16" aria-hidden="true"><path d="M1 10q10-7 22-2t20-2" fill="none" stroke="var(--contour)"
          stroke-width="1.5" /></svg><span>{p.name}, every {p.scene.step}</span></li>
      {p.scene.tracks.length === 0 ? null : (
        <li><svg width="40" height="16" aria-hidden="true"><path d="M1 11 9 8l6-5 6 8 8-9 4 4 6-2" fill="none" stroke="var(--ink)"
            stroke-width=".7" /></svg><span>driven</span></li>
      )}
      {p.scene.sd ? (
        <li><canvas ref={fog.ref} style={{width: '150px', height: '16px'}} aria-hidden="true" />
          <span class="ends"><span>fog: known</span><span>a guess</span></span></li>
      ) : null}
      {p.scene.correction ? (
        <li><span class="ramp wash" aria-hidden="true" /><span class="ends"><span>−6</span><span>0</span><span>+6 % fuel</span></span></li>
      ) : null}
      {p.scene.mark ? (['measured', 'inferred', 'prior only'] as const).map((m) => <Mark key={m} mark={m} />) : null}
    </ul>
  );
}

function Mark(p: {mark: string}): JSX.Element {
  const canvas = useCanvas((c, w, h, ink) => {
    c.clearRect(0, 0, w, h);
    drawNode(c, w / 2, h / 2, p.mark, ink);
  }, []);
  return <li class="one"><canvas ref={canvas.ref} style={{width: '16px', height: '16px'}} aria-hidden="true" /><span>{p.mark}</span></li>;
}
