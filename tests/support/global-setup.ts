import { installMissingPrograms } from './outside-programs.ts';

export default function setup(): void {
  installMissingPrograms();
}
