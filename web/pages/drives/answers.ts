// Answers about a file that is waiting to be added.

import type {Answers} from '../../lib/contract.ts';

/// The answers so far with one more; what is said of a channel stays with it.
export function withAnswer(all: Answers, one: Answers): Answers {
  const channels = {...all.channels};
  for (const [header, what] of Object.entries(one.channels ?? {})) channels[header] = {...channels[header], ...what};
  return {...all, ...one, ...(Object.keys(channels).length > 0 ? {channels} : {})};
}
