/** The long questions about rework, by name; see src/reader.ts. */
export const reworkQuestions = {};
