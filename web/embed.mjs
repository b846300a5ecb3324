// Writes the built pages as a C++ source: node embed.mjs DIST_FOLDER OUT.cc. Defines fuelwright::apps::server::pages().
import {readdirSync, readFileSync, writeFileSync} from 'node:fs';
import {extname, join} from 'node:path';
import {gzipSync} from 'node:zlib';

const [, , folder, out] = process.argv;
const types = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.txt': 'text/plain; charset=utf-8',
  '.woff2': 'font/woff2',
};

// Octal, always three digits, so that no digit after it is read as part of it.
const octal = Array.from({length: 256}, (_, b) =>
    b === 34 || b === 92 ? `\\${String.fromCharCode(b)}` : b === 63 ? '\\077' :
    b >= 32 && b < 127 ? String.fromCharCode(b) : `\\${b.toString(8).padStart(3, '0')}`);
function literal(bytes) {
  const lines = [];
  for (let at = 0; at < bytes.length; at += 4000) {
    let text = '';
    for (const b of bytes.subarray(at, at + 4000)) text += octal[b];
    lines.push(`    "${text}"`);
  }
  return lines.length > 0 ? lines.join('\n') : '    ""';
}

const names = readdirSync(folder).sort();
if (!names.includes('index.html')) {
  console.error(`web: ${folder} holds no index.html`);
  process.exit(1);
}
const constants = [], rows = [];
names.forEach((name, k) => {
  const type = types[extname(name)];
  if (!type) {
    console.error(`web: ${name}: no media type is known for it`);
    process.exit(1);
  }
  const bytes = readFileSync(join(folder, name));
  const packed = extname(name) === '.woff2' ? Buffer.alloc(0) : gzipSync(bytes, {level: 9});
  constants.push(`constexpr char kBytes${k}[] =\n${literal(bytes)};`, `constexpr char kGzip${k}[] =\n${literal(packed)};`);
  rows.push(`    {"/${name}", "${type}", {kBytes${k}, sizeof kBytes${k} - 1}, {kGzip${k}, sizeof kGzip${k} - 1}},`);
});
writeFileSync(out, `// The pages as bytes, made by web/embed.mjs.
#include <array>

#include "apps/fuelwright/server/pages.h"

namespace fuelwright::apps::server {
namespace {

${constants.join('\n')}

constexpr std::array<PageFile, ${rows.length}> kPages{{
${rows.join('\n')}
}};

}  // namespace

std::span<const PageFile> pages() { return kPages; }

}  // namespace fuelwright::apps::server
`);
