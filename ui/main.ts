import type { SessionResponse } from '../api/contract/payloads.ts';
import { call, onSignInNeeded } from './data/api-client.ts';
import { forgetFindings } from './data/findings.ts';
import { type LiveClient, type LiveState, startLiveClient } from './data/live-client.ts';
import { createChartPage } from './pages/chart-page.ts';
import { createLetterPage } from './pages/letter-page.ts';
import { createLoggerPage } from './pages/logger-page.ts';
import { createLoggersPage } from './pages/loggers-page.ts';
import { createNewLoggerPage } from './pages/new-logger-page.ts';
import type { PageContext, PageView } from './pages/page-view.ts';
import { signInOverPage } from './pages/sign-in-dialog.ts';
import { createSignInPage } from './pages/sign-in-page.ts';
import { createSitePage } from './pages/site-page.ts';
import { createSitesPage } from './pages/sites-page.ts';
import { createUnknownPage } from './pages/unknown-page.ts';
import { el, replace } from './parts/element.ts';
import { holdsTyping } from './parts/kept-value.ts';
import { followProgram } from './parts/program-note.ts';
import { addressOf, type Page, readAddress } from './view-state.ts';

/* Start of the page: the address decides which page stands, links of our own are followed without loading again. */

const content = document.getElementById('content')!;
const liveNote = document.getElementById('live-note')!;
const programNote = document.getElementById('program-note')!;
const aboutNote = document.getElementById('about-note')!;
const sessionNote = document.getElementById('session-note')!;

const LIVE_WORDS: Record<LiveState, string> = {
  connecting: '',
  open: '',
  lost: 'The connection to the program is lost: what stands here is not being brought up to date. Trying again.',
};

let live: LiveClient | undefined;
let current: { page: Page; view: PageView } | undefined;

function context(): PageContext {
  if (!live) {
    live = startLiveClient();
    live.onFrame((frame) => {
      if (frame.type === 'changed') forgetFindings();
    });
    let wasLost = false;
    live.onState((state) => {
      liveNote.textContent = state === 'open' && wasLost ? 'Connected again.' : LIVE_WORDS[state];
      if (state === 'lost') wasLost = true;
    });
    followProgram(programNote, live);
  }
  return {
    live,
    navigate(address, how = 'push') {
      if (how === 'replace') history.replaceState(null, '', address);
      else history.pushState(null, '', address);
      show(how === 'push');
    },
    announce(text) {
      liveNote.textContent = text;
    },
  };
}

function create(page: Page): PageView {
  switch (page.name) {
    case 'sites':
      return createSitesPage(context());
    case 'site':
      return createSitePage(context(), page.siteId);
    case 'chart':
      return createChartPage(context(), page);
    case 'letter':
      return createLetterPage(context(), page);
    case 'site-loggers':
      return createLoggersPage(context(), page.siteId);
    case 'loggers':
      return createLoggersPage(context(), undefined);
    case 'new-logger':
      return createNewLoggerPage(context(), page.siteId);
    case 'logger':
      return createLoggerPage(context(), page.loggerId);
    case 'sign-in':
      // Loaded anew: whatever was refused before begins again as the owner.
      return createSignInPage((address) => location.replace(address), page.next);
    case 'unknown':
      return createUnknownPage(page.path);
    default:
      return page satisfies never;
  }
}

/** Shows what the address says. `moveFocus`: a new page was asked for, so reading starts at its heading. */
function show(moveFocus: boolean): void {
  const page = readAddress(location.pathname, location.search);
  if (current?.view.follow && current.page.name === page.name && current.view.follow(page)) {
    current = { page, view: current.view };
  } else {
    current?.view.stop();
    current = { page, view: create(page) };
    replace(content, current.view.element);
    if (moveFocus) {
      scrollTo(0, 0);
      content.focus({ preventScroll: true });
    }
  }
  nameTab();
  for (const link of document.querySelectorAll('.top nav a'))
    link.toggleAttribute('aria-current', link.getAttribute('href') === location.pathname);
}

function nameTab(): void {
  const title = current?.view.title() ?? '';
  document.title = title ? `${title} · Mains Diary` : 'Mains Diary';
}

/** Pages learn their names as they load: the tab follows the heading. */
new MutationObserver(nameTab).observe(content, { childList: true, subtree: true });

document.addEventListener('click', (event) => {
  if (event.defaultPrevented || event.button !== 0 || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey)
    return;
  const link = event.target instanceof Element ? event.target.closest('a') : null;
  if (!link || link.target || link.hasAttribute('download') || link.origin !== location.origin) return;
  if (link.pathname.startsWith('/api/') || link.getAttribute('href')?.startsWith('#')) return;
  event.preventDefault();
  history.pushState(null, '', link.href);
  show(true);
});
addEventListener('popstate', () => show(true));

/** Over the page where something is typed on it, else as a page of its own. True once somebody is signed in again. */
async function signInNeeded(changes: boolean): Promise<boolean> {
  if (!holdsTyping(content)) {
    askToSignIn();
    return false;
  }
  // The page asks how the program is every few seconds: who left the question is asked again only on saving.
  if (leftUnsigned && !changes) return false;
  leftUnsigned = !(await signInOverPage());
  return !leftUnsigned;
}
let leftUnsigned = false;

function askToSignIn(): void {
  if (location.pathname === '/sign-in') return;
  const here = location.pathname + location.search;
  history.replaceState(null, '', addressOf({ name: 'sign-in', next: here }));
  show(true);
}
onSignInNeeded(signInNeeded);

/** Where a password is set and one is signed in: the way out. */
function offerSignOut(): void {
  const leave = async () => {
    await call('signOut');
    location.assign(addressOf({ name: 'sign-in', next: '/' }));
  };
  replace(sessionNote, el('button', { type: 'button', click: () => void leave() }, 'Sign out'));
}

/** Who may read is asked before anything else, so that nothing is fetched in vain. */
async function start(): Promise<void> {
  let session: SessionResponse | undefined;
  try {
    session = await call('getSession');
  } catch {
    // The page itself says what can't be reached, where it happens.
  }
  if (session?.needsSignIn && location.pathname !== '/sign-in') askToSignIn();
  else show(false);
  if (session === undefined || session.needsSignIn) return;
  if (session.accountExists && session.signedIn) offerSignOut();
  const about = await call('about').catch(() => undefined);
  if (about)
    aboutNote.textContent = about.demo
      ? `Version ${about.version}. This is a demonstration: every property and every sample in it is invented.`
      : `Version ${about.version}.`;
}

void start();
