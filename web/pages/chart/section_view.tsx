// Section A–A′: along any line of the chart, with its interval, as the server computes it.

import type {JSX} from 'preact';
import {useEffect, useRef, useState} from 'preact/hooks';
import {axisScaleText, sectionLines, sectionQuery} from '../../chart/from_reply.ts';
import {drawSection, type SectionDrawing} from '../../chart/section_draw.ts';
import type {Scene} from '../../chart/scene.ts';
import {get, inJob} from '../../lib/api.ts';
import type {Chart, Section} from '../../lib/contract.ts';
import {head} from '../../lib/store.ts';
import {useCanvas} from '../../view/pieces.tsx';

type Line = NonNullable<Scene['section']>;

/// The newest answer for a line that may be moving.
function useSection(job: string, table: string, line: Line | null): Section | null {
  const [section, set] = useState<Section | null>(null);
  const flying = useRef(false), wanted = useRef<string | null>(null);
  const query = line ? sectionQuery(table, line, 200) : null;
  const key = `${query}@${head.value}`;
  useEffect(() => {
    if (query === null) return;
    wanted.current = query;
    if (flying.current) return;
    flying.current = true;
    void (async () => {
      while (wanted.current !== null) {
        const now = wanted.current;
        wanted.current = null;
        try {
          set(await get<Section>(inJob(job, now)));
        } catch {
          // The chart itself says what is wrong.
        }
      }
      flying.current = false;
    })();
  }, [key]);
  return section;
}

export function SectionView(p: {job: string; chart: Chart; scene: Scene; line: Line; node: number | null}): JSX.Element {
  const section = useSection(p.job, p.chart.table, p.line);
  const drawing = section ? drawingOf(p, section) : null;
  const canvas = useCanvas((c, width, height, ink) => {
    if (drawing) drawSection(c, drawing, width, height, ink);
    else c.clearRect(0, 0, width, height);
  }, [section, p.node, p.scene]);
  const level = p.line.y0 === p.line.y1;
  const where = level ? `at ${axisScaleText(p.scene.yScale, p.line.y0)}` :
      `${axisScaleText(p.scene.xScale, p.line.x0)}, ${axisScaleText(p.scene.yScale, p.line.y0)} to ` +
      `${axisScaleText(p.scene.xScale, p.line.x1)}, ${axisScaleText(p.scene.yScale, p.line.y1)}`;
  const lines = section ? sectionLines(section) : null;
  const what = lines?.relative ? `correction against revision ${p.chart.revision}, %` : `${p.chart.table === 've' ? 'VE' :
      p.chart.table.replaceAll('_', ' ')}${lines?.unit ? `, ${lines.unit}` : ''}`;
  return (
    <figure class="section">
      <figcaption><strong>Section A–A′ {where}</strong> <span class="label">{what}, with its 95 % band
        {lines?.proposed ? '; dashed: as proposed' : ''}</span></figcaption>
      <canvas ref={canvas.ref} role="img" aria-label={`Section ${where}: ${what} with its 95 % band`} style={{height: '132px'}} />
    </figure>
  );
}

function drawingOf(p: {chart: Chart; scene: Scene; line: Line; node: number | null}, s: Section): SectionDrawing {
  const lines = sectionLines(s);
  const {x, y} = p.scene, l = p.line;
  const marks: {at: number; mark: string}[] = [];
  // Nodes within reach of the line: on a level line those of the nearest row.
  const dx = l.x1 - l.x0, dy = l.y1 - l.y0;
  const spanX = p.scene.xScale.high - p.scene.xScale.low, spanY = p.scene.yScale.high - p.scene.yScale.low;
  const length = (dx / spanX) ** 2 + (dy / spanY) ** 2;
  const t = (px: number, py: number): number =>
      length > 0 ? (((px - l.x0) / spanX) * (dx / spanX) + ((py - l.y0) / spanY) * (dy / spanY)) / length : 0;
  const off = (px: number, py: number, at: number): number =>
      Math.hypot((px - l.x0 - dx * at) / spanX, (py - l.y0 - dy * at) / spanY);
  p.chart.mark?.forEach((mark, k) => {
    const px = x[k % x.length]!, py = y[Math.floor(k / x.length)]!, at = t(px, py);
    if (at >= -1e-9 && at <= 1 + 1e-9 && off(px, py, at) < 0.012) marks.push({at: Math.min(1, Math.max(0, at)), mark});
  });
  const cursor = p.node === null ? null : t(x[p.node % x.length]!, y[Math.floor(p.node / x.length)]!);
  return {at: s.at, middle: lines.middle, low: lines.low, high: lines.high, proposed: lines.proposed,
          relative: lines.relative, marks, cursor: cursor !== null && cursor >= 0 && cursor <= 1 ? cursor : null};
}
