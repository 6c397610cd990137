/** The long questions of this capability, by name; see src/reader.ts. */
export const chartQuestions = {};
