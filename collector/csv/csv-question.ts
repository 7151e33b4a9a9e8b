import { Problem } from '../model/problem.ts';

/** The option of an import that answers a question. */
export type QuestionOption = 'time' | 'value' | 'zone' | 'date' | 'dateOrder' | 'clockForm' | 'decimal';

/** Something that the file alone can't tell. */
export interface CsvQuestion {
  readonly option: QuestionOption;
  readonly question: string;
  /** Possible answers with what each would mean; empty where the answer is free text. */
  readonly answers: readonly { readonly value: string; readonly meaning: string }[];
  /** A valid answer where there is no list. */
  readonly example?: string;
}

/** Asks all that is open at once. Code `needs_answer`; `details.questions` holds the questions. */
export function needsAnswer(questions: readonly CsvQuestion[]): Problem {
  const hints = questions.map((entry) => {
    const answers = entry.answers.map((answer) => `${entry.option}=${answer.value} (${answer.meaning})`).join(' or ');
    return answers || `${entry.option}=${entry.example ?? '…'}`;
  });
  return new Problem(
    'needs_answer',
    `The file can be read in more than one way. ${questions.map((entry) => entry.question).join(' ')}`,
    `Send it again with ${hints.join(', and with ')}. Nothing was stored.`,
    { details: { questions } },
  );
}
