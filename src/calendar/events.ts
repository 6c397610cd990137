export const calendarEvents = {};
