// The pages of Fuelwright: one shell, one page at a time, by the address after the #.

import './style/tokens.css';
import './style/page.css';
import {effect} from '@preact/signals';
import {render, type JSX} from 'preact';
import {useEffect} from 'preact/hooks';
import {openSession} from './lib/api.ts';
import {jobName, jobProblem, listen, page, place, readJob} from './lib/store.ts';
import {ChartPage} from './pages/chart/chart_page.tsx';
import {Drives} from './pages/drives/drives.tsx';
import {FirstTables} from './pages/first_tables/first_tables.tsx';
import {Jobs} from './pages/parts/jobs.tsx';
import {KeyOn} from './pages/key_on/key_on.tsx';
import {Parts} from './pages/parts/parts.tsx';
import {Supply} from './pages/supply/supply.tsx';
import {kTitles, Shell} from './view/shell.tsx';

function Page(): JSX.Element {
  const name = jobName.value;
  if (name === null) return <Jobs />;
  if (jobProblem.value !== null) {
    return (
      <main tabIndex={-1}>
        <h1 id="answer">This job cannot be shown.</h1>
        <p class="note" role="alert">{jobProblem.value}</p>
        <p><a class="button" href="#/">All jobs</a></p>
      </main>
    );
  }
  switch (page.value) {
    case 'parts': return <Parts key={name} job={name} />;
    case 'supply': return <Supply key={name} job={name} />;
    case 'first-tables': return <FirstTables key={name} job={name} />;
    case 'key-on': return <KeyOn key={name} job={name} />;
    case 'drives': return <Drives key={name} job={name} />;
    case 'chart': return <ChartPage key={name} job={name} />;
  }
}

function App(): JSX.Element {
  const where = place.value;
  useEffect(() => {
    document.title = where.job === null ? 'Fuelwright' : `${kTitles[where.page]} · ${where.job}`;
    scrollTo(0, 0);
  }, [where.job, where.page]);
  return <Shell><Page /></Shell>;
}

effect(() => {
  void jobName.value;
  void readJob();
});
void openSession().catch(() => undefined);
listen();
render(<App />, document.getElementById('app')!);
