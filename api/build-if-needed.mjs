// Builds the server and the page where they are missing or older than any source, so that one command works on a
// fresh machine and costs nothing the second time. Plain JavaScript, because it runs before anything is compiled.
import { spawnSync } from 'node:child_process';
import { existsSync, readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const root = fileURLToPath(new URL('..', import.meta.url));

function newestMs(path) {
  const stat = statSync(path);
  if (!stat.isDirectory()) return stat.mtimeMs;
  return Math.max(0, ...readdirSync(path).map((name) => newestMs(join(path, name))));
}

function build(script, made, sources) {
  const madeMs = existsSync(made) ? statSync(made).mtimeMs : 0;
  const sourceMs = Math.max(...sources.map((name) => newestMs(join(root, name))));
  if (madeMs > sourceMs) return;
  console.error(`building: npm run ${script}`);
  const result = spawnSync('npm', ['run', '--silent', script], { cwd: root, stdio: ['ignore', 2, 2] });
  if (result.status !== 0) {
    console.error(
      `building failed: npm run ${script} ended with ${result.status ?? result.signal}. The messages above say where.`,
    );
    process.exit(1);
  }
}

const shared = ['package.json', 'package-lock.json', 'tsconfig.json', 'collector', 'api'];
build('build:server', join(root, 'dist/.built-server'), [...shared, 'simulator', 'tests']);
build('build:page', join(root, 'dist/ui/index.html'), [...shared, 'ui', 'vite.config.ts']);
