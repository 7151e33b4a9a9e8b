/** Raised with every change that can alter a finding: cached findings are kept by it, and a letter names it. */
export const ANALYSIS_VERSION = '1.6.0';
