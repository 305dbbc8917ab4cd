//! Invented networks: sites, years, blocks and entries with effects of their own, some observations lost.

use guardrow_inference::{Network, NetworkGrouping};

/// Numbers that look random, the same every time (the generator of Numerical Recipes, chapter 7, "quick and dirty").
pub struct Numbers(pub u64);

impl Numbers {
    /// Between 0 and 1.
    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Mean 0, standard deviation 1, nearly normal: the sum of twelve uniform numbers.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

/// How large a network is, and which share of its plots is lost.
#[derive(Debug, Clone, Copy)]
pub struct Size {
    pub sites: usize,
    pub years: usize,
    pub blocks: usize,
    pub entries: usize,
    pub lost: f64,
}

/// Site, year, site x year, block, entry x site, entry x year and entry x site x year, with these standard deviations, and a
/// residual one of 3.
pub fn network(size: Size, deviations: [f64; 7], seed: u64) -> Network {
    let mut numbers = Numbers(seed);
    let (mut site, mut year, mut block, mut entry) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for at in 0..size.sites * size.years * size.blocks * size.entries {
        if numbers.uniform() < size.lost {
            continue;
        }
        entry.push(at % size.entries);
        block.push(at / size.entries % size.blocks);
        year.push(at / (size.entries * size.blocks) % size.years);
        site.push(at / (size.entries * size.blocks * size.years));
    }
    let grouping = NetworkGrouping::new;
    let (site, year) = (grouping("site", &site, size.sites), grouping("year", &year, size.years));
    let (block, entry) = (grouping("block", &block, size.blocks), grouping("entry", &entry, size.entries));
    let crossed = NetworkGrouping::crossed;
    let site_year = crossed("site x year", &site, &year);
    let blocks = crossed("block in site x year", &site_year, &block);
    let entry_site = crossed("entry x site", &entry, &site);
    let entry_year = crossed("entry x year", &entry, &year);
    let cells = crossed("entry x site x year", &entry, &site_year);
    let random = vec![site, year, site_year, blocks, entry_site, entry_year, cells];
    let mut response: Vec<f64> =
        (0..entry.observations()).map(|at| 60.0 + entry.class_of(at) as f64 + 3.0 * numbers.normal()).collect();
    for (grouping, deviation) in random.iter().zip(deviations) {
        let effects: Vec<f64> = (0..grouping.classes()).map(|_| deviation * numbers.normal()).collect();
        response.iter_mut().enumerate().for_each(|(at, value)| *value += effects[grouping.class_of(at)]);
    }
    Network::new(response, entry, random)
}
