export const referenceEvents = {};
