//! Codes of currencies, so that `45 EUR/ha` reads as money per area.

/// Active alphabetic codes of ISO 4217, without those of funds, metals and testing. From memory.
const CODES: &str = "AED AFN ALL AMD ANG AOA ARS AUD AWG AZN BAM BBD BDT BGN BHD BIF BMD BND BOB BRL BSD BTN BWP BYN BZD \
    CAD CDF CHF CLP CNY COP CRC CUP CVE CZK DJF DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GNF GTQ GYD HKD \
    HNL HTG HUF IDR ILS INR IQD IRR ISK JMD JOD JPY KES KGS KHR KMF KPW KRW KWD KYD KZT LAK LBP LKR LRD LSL LYD MAD MDL \
    MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD OMR PAB PEN PGK PHP PKR PLN PYG QAR RON RSD \
    RUB RWF SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TND TOP TRY TTD TWD TZS UAH UGX USD \
    UYU UZS VES VND VUV WST XAF XCD XOF XPF YER ZAR ZMW";

/// The text with a currency code at its start written as `money`; any other text as it is.
///
/// A station keeps one currency, so its code only says that money is meant. Capitals tell a code from a unit.
pub(super) fn without_code(text: &str) -> String {
    let code = text.split(['/', ' ']).next().unwrap_or("");
    let is_code = code.len() == 3 && CODES.split_whitespace().any(|known| known == code);
    if is_code { text.replacen(code, "money", 1) } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use crate::unit::{Quantity, Unit};

    #[test]
    fn a_currency_code_means_money() {
        assert_eq!(Unit::parse("EUR/ha"), Ok(Unit::MoneyPerHa));
        assert_eq!(Unit::parse("CAD per bushel"), Ok(Unit::MoneyPerBu));
        assert_eq!(Quantity::parse("45 EUR/ha").map(|cost| cost.value), Ok(45.0));
        assert!(Unit::parse("XYZ/ha").is_err());
        assert!(Unit::parse("eur/ha").is_err());
    }
}
