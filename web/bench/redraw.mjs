// A redraw of the whole terrain chart: 32 by 32 nodes, 4,000 points of track, all of it new at every frame; and of the same chart
// while a section is drawn across it. Run: node web/bench/redraw.mjs  (needs chromium)
import {measure} from './measure.mjs';

await measure('redraw_page.ts', [['chart', 'redraw of a chart of 32 x 32 nodes', 60], ['drag', 'a section drawn across it', 60]]);
