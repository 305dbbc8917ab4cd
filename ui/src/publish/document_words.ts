// The kinds of documents, for people.

export const DOCUMENT_WORDS: Record<string, string> = {
  map: 'plot map',
  'field-sheet': 'field sheet',
  'field-workbook': 'workbook to fill',
  'packet-labels': 'packet labels',
  'packing-list': 'packing list',
  report: 'report',
  'data-package': 'data package',
  'r-script': 'script for R',
};
