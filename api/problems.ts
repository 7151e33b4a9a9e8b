import type { ProblemKind } from '../collector/model/problem.ts';

/*
 * Everything that can go wrong, by its stable code: HTTP status and title. A code that is raised anywhere stands here
 * and in DEVELOPERS.md; a test holds all three together.
 */
export const PROBLEMS = {
  // Requests
  invalid_request: { status: 400, title: 'Something in the request is wrong' },
  invalid_json: { status: 400, title: 'The body is not JSON' },
  span_wrong: { status: 400, title: 'The span of time is wrong' },
  span_too_long: { status: 400, title: 'The span of time is too long' },
  nothing_to_change: { status: 400, title: 'The request changes nothing' },
  calibration_unfit: { status: 400, title: 'The comparison does not fix a calibration' },
  unknown_route: { status: 404, title: 'No such address' },
  unknown_site: { status: 404, title: 'No such site' },
  unknown_logger: { status: 404, title: 'No such logger' },
  unknown_file: { status: 404, title: 'No such file of the page' },
  method_not_allowed: { status: 405, title: 'This address is not asked that way' },
  logger_exists: { status: 409, title: 'A logger of that name exists' },
  filter_taken: { status: 409, title: 'Another logger takes the topic filter' },
  request_too_slow: { status: 408, title: 'The request came too slowly' },
  headers_too_large: { status: 431, title: 'The headers are too large' },
  body_too_large: { status: 413, title: 'The body is too large' },
  unsupported_content_type: { status: 415, title: 'The body is of a kind that is not taken here' },
  busy: { status: 503, title: 'Too much is being computed at once' },
  computation_failed: { status: 500, title: 'A computation ended in a fault' },
  unknown_fault: { status: 500, title: 'A fault of the program' },
  page_not_built: { status: 503, title: 'The page has not been built' },
  upgrade_needed: { status: 426, title: 'This address speaks WebSocket' },
  too_many_readers: { status: 503, title: 'Too many live connections' },

  // Access
  misdirected_request: { status: 421, title: 'The request names another host' },
  foreign_origin: { status: 403, title: 'The request comes from another page' },
  sign_in_needed: { status: 401, title: 'Sign in first' },
  wrong_password: { status: 401, title: 'Wrong password' },
  no_account: { status: 409, title: "No owner's password is set" },
  sign_in_slowed: { status: 429, title: 'Too many wrong passwords' },
  password_unfit: { status: 400, title: 'The password is not fit' },
  password_needed: { status: 500, title: "An owner's password is needed first" },
  access_unreadable: { status: 500, title: 'The record of who may sign in is unreadable' },

  // Start
  settings_wrong: { status: 500, title: 'Settings are wrong' },
  port_taken: { status: 500, title: 'The port is taken' },
  cannot_listen: { status: 500, title: 'The address cannot be listened on' },
  data_folder_held: { status: 409, title: 'Another program holds the data folder' },
  broker_unreachable: { status: 503, title: 'The broker cannot be reached' },
  certificate_unfit: { status: 500, title: 'The certificate or its key is unfit' },

  // Store
  store_unavailable: { status: 503, title: 'The store cannot be used' },
  store_full: { status: 507, title: 'The disk is full' },
  store_read_only: { status: 503, title: 'The store cannot be written' },
  store_corrupt: { status: 500, title: 'The store is damaged' },
  backup_damaged: { status: 400, title: 'The backup is damaged' },
  backup_no_room: { status: 507, title: 'There is no room for the copy' },
  record_newer: { status: 409, title: 'The record there is newer than the backup' },
  store_newer: { status: 500, title: 'The store was written by a newer version' },

  // The record
  end_points_missing: { status: 409, title: "The transducer's end points are not set" },
  unit_not_convertible: { status: 409, title: 'The unit cannot be converted' },
  nothing_recorded: { status: 404, title: 'Nothing was recorded there' },
  logger_hidden: { status: 409, title: 'The logger is hidden' },

  // Imports
  needs_answer: { status: 409, title: 'The file can be read in two ways' },
  unreadable_csv: { status: 400, title: 'The file is not CSV that can be read' },
  unknown_column: { status: 400, title: 'The file has no such column' },
  upload_interrupted: { status: 400, title: 'The file broke off while it was being sent' },
  spool_failed: { status: 507, title: 'The file cannot be held for reading' },

  // Command line
  interrupted: { status: 503, title: 'It was interrupted' },
  passwords_differ: { status: 400, title: 'The two passwords differ' },
  file_not_written: { status: 500, title: 'The file could not be written' },
  server_unreachable: { status: 503, title: 'The server that holds the data folder does not answer' },
  option_wrong: { status: 400, title: 'An option is wrong' },
  unreadable_file: { status: 400, title: 'The file cannot be opened' },
  unreadable_analysis_file: { status: 400, title: 'The log cannot be read' },
  site_file_wrong: { status: 400, title: 'The description of the site is wrong' },
} as const satisfies Record<string, ProblemKind>;

export type ProblemCode = keyof typeof PROBLEMS;

/** Status and title of a code; undefined for one that the table doesn't hold. */
export function problemKind(code: string): ProblemKind | undefined {
  return Object.hasOwn(PROBLEMS, code) ? PROBLEMS[code as ProblemCode] : undefined;
}
