import './look/fonts.css';
import './look/tokens.css';
import './look/base.css';
import './look/charts.css';
import './look/print.css';
import { mount } from 'svelte';
import Guardrow from './Guardrow.svelte';

const target = document.getElementById('guardrow');
if (!target) throw new Error('The page has no place for Guardrow: index.html is not the one it was built with.');
mount(Guardrow, { target });
