import { holdDataFolder } from '../../../collector/store/data-folder.ts';

// Holds a data folder until it is killed.
const hold = holdDataFolder(process.argv[2]!);
hold.announce('http://127.0.0.1:8080');
process.stdout.write('held\n');
setInterval(() => {}, 1000);
