// What third parties wrote and the bundle carries, with their licences: read from the packages themselves.
import {readdirSync, readFileSync} from 'node:fs';
import {join, resolve} from 'node:path';

/// All of these may be carried in a program if their text and copyright line come along. The OFL says so of fonts:
/// "bundled, redistributed and/or sold with any software, provided that each copy contains the above copyright notice and
/// this license" (version 1.1, condition 2).
const kMayBeCarried = ['MIT', 'ISC', 'BSD-2-Clause', 'BSD-3-Clause', 'Apache-2.0', 'OFL-1.1'];

/// Folders of the packages that an esbuild metafile names as put in, each once.
function packagesOf(metafile, root) {
  const folders = new Set();
  for (const output of Object.values(metafile.outputs)) {
    for (const input of Object.keys(output.inputs)) {
      const found = /^.*node_modules\/(@[^/]+\/)?[^/]+/.exec(resolve(root, input));
      if (found) folders.add(found[0]);
    }
  }
  return [...folders].sort();
}

/// The text of /licences.txt. Throws where a package says no licence, or one that is not known to allow this.
export function licencesOf(metafile, root) {
  const parts = packagesOf(metafile, root).map((folder) => {
    const {name, version, license} = JSON.parse(readFileSync(join(folder, 'package.json'), 'utf8'));
    const file = readdirSync(folder).find((f) => /^(licen[cs]e|copying|ofl)(\.\w+)?$/i.test(f));
    if (!file) throw new Error(`${name}: no licence file in ${folder}`);
    if (!kMayBeCarried.includes(license)) {
      throw new Error(`${name}: its licence is '${license}'; expected one of ${kMayBeCarried.join(', ')}`);
    }
    const text = readFileSync(join(folder, file), 'utf8').replaceAll('\r\n', '\n').trim();
    return {name, text: `${name} ${version}, ${license}\n${'-'.repeat(72)}\n\n${text}\n`};
  });
  return 'What others wrote and these pages carry, each under its own licence. The pages themselves are part of Fuelwright\n' +
      '(Apache License 2.0).\n\n' + parts.map((p) => p.text).join('\n\n');
}
