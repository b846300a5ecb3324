// A pan by the pointer over a recording of a million rows, as the page of drives does it: three strips and all eight. The reduction
// to columns of the screen is the program's; here it is made beforehand. Run: node web/bench/pan.mjs  (needs chromium)
import {measure} from './measure.mjs';

await measure('pan_page.tsx', [['three', 'pan over 1e6 samples, three strips', 60], ['eight', 'pan over 1e6 samples x 8 channels', 60]]);
