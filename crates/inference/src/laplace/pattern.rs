//! Which effects of units meet in an observation, and so which entries of `H` and of its factor can differ from zero.
//!
//! The finest grouping comes first. When groupings nest, eliminating in that order fills in nothing: plots in main plots in
//! blocks cost a few operations per plot, however many blocks there are. Where groupings cross, only the coarser ones fill in.

/// One grouping of the observations into units that share an effect.
#[derive(Debug, Clone)]
pub(crate) struct Units {
    /// The unit of every observation.
    pub class: Vec<usize>,
    /// Number of units.
    pub classes: usize,
    /// What an effect is multiplied by in every observation; nothing: by one.
    pub along: Option<Vec<f64>>,
    /// Whether effects may be anything, with equal weight, instead of being normal.
    pub is_flat: bool,
}

impl Units {
    /// Units with normal effects.
    pub fn normal(class: Vec<usize>, classes: usize) -> Self {
        Self { class, classes, along: None, is_flat: false }
    }

    /// Effects that may be anything.
    pub fn flat(class: Vec<usize>, classes: usize) -> Self {
        Self { class, classes, along: None, is_flat: true }
    }

    /// The slope of a covariate, which may be anything.
    pub fn flat_slope(covariate: Vec<f64>) -> Self {
        Self { class: vec![0; covariate.len()], classes: 1, along: Some(covariate), is_flat: true }
    }
}

/// Places of all effects, and of the entries below the diagonal, column by column with rows ascending.
#[derive(Debug, Clone, Default)]
pub(crate) struct Pattern {
    /// Number of groupings.
    pub groupings: usize,
    /// Number of effects over all groupings.
    pub size: usize,
    /// For each grouping here its index among those given.
    pub given: Vec<usize>,
    /// The grouping of every effect.
    pub grouping_of: Vec<usize>,
    /// For each grouping here whether its effects may be anything.
    is_flat: Vec<bool>,
    /// Place of the first effect of each grouping.
    first: Vec<usize>,
    /// Places of each observation's effects, `groupings` for each.
    places: Vec<usize>,
    /// What each observation's effects are multiplied by, `groupings` for each.
    along: Vec<f64>,
    /// For each observation the entries where its effects meet: pair `(a, b)`, `a < b`, at `b (b - 1) / 2 + a`.
    meetings: Vec<usize>,
    column_start: Vec<usize>,
    row: Vec<usize>,
}

impl Pattern {
    pub fn of(groupings: &[Units], observations: usize) -> Self {
        let mut given: Vec<usize> = (0..groupings.len()).collect();
        given.sort_by_key(|&index| std::cmp::Reverse(groupings[index].classes));
        let (mut first, mut grouping_of) = (Vec::new(), Vec::new());
        for (position, &index) in given.iter().enumerate() {
            first.push(grouping_of.len());
            grouping_of.resize(grouping_of.len() + groupings[index].classes, position);
        }
        let size = grouping_of.len();
        let of_observation = |i: usize| given.iter().zip(&first).map(move |(&g, &at)| at + groupings[g].class[i]);
        let places: Vec<usize> = (0..observations).flat_map(of_observation).collect();
        let along_of = |i: usize| given.iter().map(move |&g| groupings[g].along.as_ref().map_or(1.0, |along| along[i]));
        let along: Vec<f64> = (0..observations).flat_map(along_of).collect();
        let is_flat = given.iter().map(|&g| groupings[g].is_flat).collect();
        let groupings = given.len();
        let mut pattern =
            Self { groupings, size, given, grouping_of, is_flat, first, places, along, ..Self::default() };
        pattern.fill();
        pattern.meetings = pattern.find_meetings(observations);
        pattern
    }

    /// Places of the effects of an observation, one per grouping.
    pub fn places(&self, observation: usize) -> &[usize] {
        &self.places[observation * self.groupings..(observation + 1) * self.groupings]
    }

    /// What the effects of an observation are multiplied by, besides their standard deviations.
    pub fn along(&self, observation: usize) -> &[f64] {
        &self.along[observation * self.groupings..(observation + 1) * self.groupings]
    }

    /// Precision of an effect in standard deviations before anything is observed: one, or nothing where it may be anything.
    pub fn precision(&self, place: usize) -> f64 {
        if self.is_flat[self.grouping_of[place]] { 0.0 } else { 1.0 }
    }

    /// Entries where the effects of an observation meet; see the field of that name.
    pub fn meetings(&self, observation: usize) -> &[usize] {
        let pairs = self.groupings * self.groupings.saturating_sub(1) / 2;
        &self.meetings[observation * pairs..(observation + 1) * pairs]
    }

    /// Entry of a pair of an observation's effects in [`Self::meetings`].
    pub fn meeting_of(a: usize, b: usize) -> usize {
        let (a, b) = (a.min(b), a.max(b));
        b * (b - 1) / 2 + a
    }

    /// Number of entries below the diagonal.
    pub fn entries(&self) -> usize {
        self.row.len()
    }

    /// Entries of one column.
    pub fn column(&self, column: usize) -> std::ops::Range<usize> {
        self.column_start[column]..self.column_start[column + 1]
    }

    pub fn row(&self, entry: usize) -> usize {
        self.row[entry]
    }

    /// The effects of one grouping.
    pub fn effects(&self, grouping: usize) -> std::ops::Range<usize> {
        let end = self.first.get(grouping + 1).copied().unwrap_or(self.size);
        self.first[grouping]..end
    }

    /// Where the grouping that was given as number `index` stands here.
    pub fn position_of(&self, index: usize) -> usize {
        self.given.iter().position(|&given| given == index).expect("every grouping given has a position")
    }

    /// Calls `act(a, b, entry)` for every two entries `a < b` of a column, `entry` being where their rows meet.
    pub fn each_pair(&self, column: usize, mut act: impl FnMut(usize, usize, usize)) {
        let end = self.column_start[column + 1];
        for a in self.column(column) {
            let mut entry = self.column_start[self.row[a]];
            for b in a + 1..end {
                // rows of a column are among those of the column of its first row: elimination puts them there
                while self.row[entry] != self.row[b] {
                    entry += 1;
                }
                act(a, b, entry);
            }
        }
    }

    /// Rows of every column of the factor: those of the matrix, and those that elimination of earlier columns adds.
    fn fill(&mut self) {
        let mut met: Vec<(usize, usize)> = Vec::new();
        for places in self.places.chunks_exact(self.groupings.max(1)) {
            for (b, &row) in places.iter().enumerate() {
                met.extend(places[..b].iter().map(|&column| (column, row)));
            }
        }
        met.sort_unstable();
        met.dedup();
        let mut met = met.into_iter().peekable();
        let mut seen = vec![usize::MAX; self.size];
        let mut children: Vec<Vec<usize>> = vec![Vec::new(); self.size];
        self.column_start.push(0);
        for column in 0..self.size {
            let start = self.row.len();
            while let Some((_, row)) = met.next_if(|&(of, _)| of == column) {
                seen[row] = column;
                self.row.push(row);
            }
            for child in std::mem::take(&mut children[column]) {
                for entry in self.column(child) {
                    let row = self.row[entry];
                    if row != column && seen[row] != column {
                        seen[row] = column;
                        self.row.push(row);
                    }
                }
            }
            self.row[start..].sort_unstable();
            if let Some(&parent) = self.row.get(start) {
                children[parent].push(column);
            }
            self.column_start.push(self.row.len());
        }
    }

    fn find_meetings(&self, observations: usize) -> Vec<usize> {
        let mut meetings = Vec::new();
        for observation in 0..observations {
            let places = self.places(observation);
            for (b, row) in places.iter().enumerate() {
                for &column in &places[..b] {
                    let range = self.column(column);
                    let within = self.row[range.clone()].binary_search(row).expect("this pair made the entry");
                    meetings.push(range.start + within);
                }
            }
        }
        meetings
    }
}
