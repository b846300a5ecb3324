// A canvas to draw on, in a page or in a worker, where there is no document.

export type Pen = CanvasRenderingContext2D | OffscreenCanvasRenderingContext2D;
export type Canvas = HTMLCanvasElement | OffscreenCanvas;

/// A canvas that is not shown.
export function newCanvas(width: number, height: number): Canvas {
  if (typeof document === 'undefined') return new OffscreenCanvas(width, height);
  const canvas = document.createElement('canvas');
  canvas.width = width;
  canvas.height = height;
  return canvas;
}

export const penOn = (canvas: Canvas, how?: CanvasRenderingContext2DSettings): Pen => canvas.getContext('2d', how)! as Pen;
