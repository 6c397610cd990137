export const emissionEvents = {};
