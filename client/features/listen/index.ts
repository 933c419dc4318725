import './listen.css';

export { tag } from './listen-page.ts';
