// The same surface to be turned: WebGL2, levels in the tide ramp, hatch where the evidence is thin, one light.

import {fogWidth, kPitch} from './fog.ts';
import {kTide, rgb} from './ink.ts';

const kVertex = `#version 300 es
in vec3 place; in float level; in float fog; in vec3 normal;
uniform mat4 view; out float vLevel; out float vFog; out vec3 vNormal;
void main() { gl_Position = view * vec4(place, 1.0); vLevel = level; vFog = fog; vNormal = normal; }`;

const kFragment = `#version 300 es
precision highp float;
in float vLevel; in float vFog; in vec3 vNormal; out vec4 colour;
uniform vec3 tide[9]; uniform float density; uniform float pitch;
void main() {
  float at = clamp(vLevel, 0.0, 1.0) * 8.0; int i = int(min(7.0, floor(at)));
  vec3 c = mix(tide[i], tide[i + 1], at - float(i));
  float light = 0.78 + 0.22 * normalize(vNormal).y;
  float across = mod((gl_FragCoord.x - gl_FragCoord.y) / density / 1.41421356, pitch);
  vec3 hatch = dot(c, vec3(0.3, 0.6, 0.1)) > 0.42 ? vec3(0.08, 0.125, 0.17) : vec3(0.95, 0.94, 0.89);
  float line = clamp(vFog * 0.5 - abs(across - pitch * 0.5) + 0.5, 0.0, 1.0) * step(0.001, vFog);
  colour = vec4(mix(c * light, hatch, line * 0.8), 1.0);
}`;

const kLineVertex = `#version 300 es
in vec3 place; uniform mat4 view;
void main() { gl_Position = view * vec4(place, 1.0); gl_Position.z -= 0.0015 * gl_Position.w; }`;
const kLineFragment = `#version 300 es
precision mediump float; uniform vec4 ink; out vec4 colour; void main() { colour = ink; }`;

export interface SurfaceData {
  x: readonly number[];
  y: readonly number[];
  values: ArrayLike<number>;
  sd: readonly number[] | null;
}

export interface Turn {
  round: number;  // about the upright axis [rad]
  tilt: number;   // above the horizon [rad]
  near: number;   // 1: as it comes
}

export type Project = (x: number, y: number, v: number) => [px: number, py: number];

/// Null where the browser has no WebGL2.
export function surfaceOn(canvas: HTMLCanvasElement): Surface | null {
  const gl = canvas.getContext('webgl2', {antialias: true, preserveDrawingBuffer: true});
  return gl ? new Surface(canvas, gl) : null;
}

export class Surface {
  private readonly faces: WebGLProgram;
  private readonly lines: WebGLProgram;
  private readonly buffers: Record<'faces' | 'faceOrder' | 'places' | 'lineOrder', WebGLBuffer>;
  private faceCount = 0;
  private lineCount = 0;
  private data: SurfaceData | null = null;
  private low = 0;
  private high = 1;

  constructor(private readonly canvas: HTMLCanvasElement, private readonly gl: WebGL2RenderingContext) {
    this.faces = program(gl, kVertex, kFragment);
    this.lines = program(gl, kLineVertex, kLineFragment);
    const b = (): WebGLBuffer => gl.createBuffer()!;
    this.buffers = {faces: b(), faceOrder: b(), places: b(), lineOrder: b()};
  }

  load(data: SurfaceData): void {
    const {gl} = this, nx = data.x.length, ny = data.y.length;
    this.data = data;
    this.low = Math.min(...Array.from(data.values));
    this.high = Math.max(...Array.from(data.values));
    const all = new Float32Array(nx * ny * 8), places = new Float32Array((nx * ny + 4) * 3);
    for (let j = 0; j < ny; ++j) {
      for (let i = 0; i < nx; ++i) {
        const k = j * nx + i, [px, py, pz] = this.place(data.x[i]!, data.y[j]!, data.values[k]!);
        const n = this.normal(i, j);
        all.set([px, py, pz, this.level(data.values[k]!), data.sd ? fogWidth(data.sd[k]!) : 0, ...n], k * 8);
        places.set([px, py, pz], k * 3);
      }
    }
    const faces: number[] = [], lines: number[] = [];
    for (let j = 0; j < ny; ++j) {
      for (let i = 0; i < nx; ++i) {
        const k = j * nx + i;
        if (i < nx - 1 && j < ny - 1) faces.push(k, k + 1, k + nx, k + 1, k + nx + 1, k + nx);
        if (i < nx - 1) lines.push(k, k + 1);
        if (j < ny - 1) lines.push(k, k + nx);
      }
    }
    // The floor, so that the eye finds the axes.
    places.set([-1, -0.45, 0.75, 1, -0.45, 0.75, 1, -0.45, -0.75, -1, -0.45, -0.75], nx * ny * 3);
    for (let k = 0; k < 4; ++k) lines.push(nx * ny + k, nx * ny + ((k + 1) % 4));
    this.faceCount = faces.length;
    this.lineCount = lines.length;
    put(gl, gl.ARRAY_BUFFER, this.buffers.faces, all);
    put(gl, gl.ARRAY_BUFFER, this.buffers.places, places);
    put(gl, gl.ELEMENT_ARRAY_BUFFER, this.buffers.faceOrder, new Uint32Array(faces));
    put(gl, gl.ELEMENT_ARRAY_BUFFER, this.buffers.lineOrder, new Uint32Array(lines));
  }

  private level(v: number): number { return (v - this.low) / (this.high - this.low || 1); }

  /// In a box of 2 x 0.9 x 1.5 about the origin; load runs away from the eye.
  private place(x: number, y: number, v: number): [number, number, number] {
    const d = this.data!;
    const part = (p: readonly number[], q: number): number => (q - p[0]!) / (p.at(-1)! - p[0]! || 1);
    return [2 * part(d.x, x) - 1, 0.9 * this.level(v) - 0.45, 0.75 - 1.5 * part(d.y, y)];
  }

  private normal(i: number, j: number): [number, number, number] {
    const d = this.data!, nx = d.x.length, ny = d.y.length;
    const at = (a: number, b: number): [number, number, number] =>
        this.place(d.x[a]!, d.y[b]!, d.values[b * nx + a]!);
    const e = at(Math.min(nx - 1, i + 1), j), w = at(Math.max(0, i - 1), j);
    const n = at(i, Math.min(ny - 1, j + 1)), s = at(i, Math.max(0, j - 1));
    const u = [e[0] - w[0], e[1] - w[1], e[2] - w[2]], v = [n[0] - s[0], n[1] - s[1], n[2] - s[2]];
    return [u[1]! * v[2]! - u[2]! * v[1]!, u[2]! * v[0]! - u[0]! * v[2]!, u[0]! * v[1]! - u[1]! * v[0]!];
  }

  /// Draws it and returns where a point of the surface's axes lies on the canvas [CSS px].
  draw(turn: Turn, paper: string, ink: string): Project {
    const {gl, canvas} = this, density = devicePixelRatio;
    const width = canvas.clientWidth, height = canvas.clientHeight;
    canvas.width = Math.round(width * density);
    canvas.height = Math.round(height * density);
    const view = viewOf(turn, width / height);
    gl.viewport(0, 0, canvas.width, canvas.height);
    const [r, g, b] = rgb(paper);
    gl.clearColor(r / 255, g / 255, b / 255, 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    gl.enable(gl.BLEND);
    gl.blendFuncSeparate(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA, gl.ONE, gl.ONE);
    gl.useProgram(this.faces);
    gl.uniformMatrix4fv(gl.getUniformLocation(this.faces, 'view'), false, view);
    gl.uniform3fv(gl.getUniformLocation(this.faces, 'tide'), kTide.flatMap((c) => rgb(c).map((n) => n / 255)));
    gl.uniform1f(gl.getUniformLocation(this.faces, 'density'), density);
    gl.uniform1f(gl.getUniformLocation(this.faces, 'pitch'), kPitch);
    gl.bindBuffer(gl.ARRAY_BUFFER, this.buffers.faces);
    attribute(gl, this.faces, 'place', 3, 32, 0);
    attribute(gl, this.faces, 'level', 1, 32, 12);
    attribute(gl, this.faces, 'fog', 1, 32, 16);
    attribute(gl, this.faces, 'normal', 3, 32, 20);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, this.buffers.faceOrder);
    gl.drawElements(gl.TRIANGLES, this.faceCount, gl.UNSIGNED_INT, 0);
    gl.useProgram(this.lines);
    gl.uniformMatrix4fv(gl.getUniformLocation(this.lines, 'view'), false, view);
    const [ir, ig, ib] = rgb(ink);
    gl.uniform4f(gl.getUniformLocation(this.lines, 'ink'), ir / 255, ig / 255, ib / 255, 0.45);
    gl.bindBuffer(gl.ARRAY_BUFFER, this.buffers.places);
    attribute(gl, this.lines, 'place', 3, 12, 0);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, this.buffers.lineOrder);
    gl.drawElements(gl.LINES, this.lineCount, gl.UNSIGNED_INT, 0);
    return (x, y, v) => project(view, this.place(x, y, v), width, height);
  }
}

function project(m: Float32Array, p: [number, number, number], width: number, height: number): [number, number] {
  const w = m[3]! * p[0] + m[7]! * p[1] + m[11]! * p[2] + m[15]!;
  const x = (m[0]! * p[0] + m[4]! * p[1] + m[8]! * p[2] + m[12]!) / w;
  const y = (m[1]! * p[0] + m[5]! * p[1] + m[9]! * p[2] + m[13]!) / w;
  return [((x + 1) / 2) * width, ((1 - y) / 2) * height];
}

/// Perspective times camera; column by column.
export function viewOf(turn: Turn, aspect: number): Float32Array {
  const f = 2.6, near = 0.1, far = 20, away = 3.5 / turn.near;
  const [c, s, ct, st] = [Math.cos(turn.round), Math.sin(turn.round), Math.cos(turn.tilt), Math.sin(turn.tilt)];
  // Turned about the upright axis, tilted towards the eye, moved away from it.
  const camera = [c, s * st, -s * ct, 0, 0, ct, st, 0, s, -c * st, c * ct, 0, 0, 0, -away, 1];
  const fx = aspect > 1.4 ? f / aspect : f / 1.4 / 1, fy = aspect > 1.4 ? f : (f * aspect) / 1.4;
  const a = (far + near) / (near - far), b = (2 * far * near) / (near - far);
  const out = new Float32Array(16);
  for (let k = 0; k < 4; ++k) {
    out[4 * k] = fx * camera[4 * k]!;
    out[4 * k + 1] = fy * camera[4 * k + 1]!;
    out[4 * k + 2] = a * camera[4 * k + 2]! + b * camera[4 * k + 3]!;
    out[4 * k + 3] = -camera[4 * k + 2]!;
  }
  return out;
}

function program(gl: WebGL2RenderingContext, vertex: string, fragment: string): WebGLProgram {
  const p = gl.createProgram()!;
  for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]] as const) {
    const shader = gl.createShader(kind)!;
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    gl.attachShader(p, shader);
  }
  gl.linkProgram(p);
  if (!gl.getProgramParameter(p, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(p) ?? 'no program');
  return p;
}

function put(gl: WebGL2RenderingContext, kind: number, buffer: WebGLBuffer, data: Float32Array | Uint32Array): void {
  gl.bindBuffer(kind, buffer);
  gl.bufferData(kind, data, gl.STATIC_DRAW);
}

function attribute(gl: WebGL2RenderingContext, p: WebGLProgram, name: string, size: number, stride: number, at: number): void {
  const where = gl.getAttribLocation(p, name);
  if (where < 0) return;
  gl.enableVertexAttribArray(where);
  gl.vertexAttribPointer(where, size, gl.FLOAT, false, stride, at);
}
