export const chartEvents = {};
