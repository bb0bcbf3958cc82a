// What draws charts: a file of its own, which a page without a chart need not parse.
export { default } from 'uplot'
