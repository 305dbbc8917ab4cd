document.title += ", running";
