// Numbers, clock readings and names of many languages, one by one.
#include "signals/recording/internal/clock.h"

#include <gtest/gtest.h>

#include <charconv>
#include <cstdint>
#include <random>
#include <string>

#include "signals/recording/internal/languages.h"
#include "signals/recording/internal/number_scan.h"
#include "signals/recording/internal/trade_words.h"

namespace fuelwright::signals::clock_test {
namespace {

TEST(NumberScan, AgreesWithTheStandardLibraryToTheLastBit) {
  std::mt19937_64 random(7);
  for (int i = 0; i < 200000; ++i) {
    std::string text = random() % 3 == 0 ? "-" : "";
    text += std::to_string(random() % (std::uint64_t{1} << (1 + random() % 50)));
    if (random() % 4 != 0) {
      text += "." + std::to_string(random() % (std::uint64_t{1} << (1 + random() % 40)));
    }
    const ScannedNumber n = scan_number((text + "\n").c_str(), false);
    if (n.end == nullptr) continue;  // too many digits for the fast road
    double exact = 0;
    std::from_chars(text.data(), text.data() + text.size(), exact);
    ASSERT_EQ(n.value, exact) << text;
  }
}

TEST(NumberScan, LeavesToOthersWhatItCannotReadExactly) {
  for (const char* text : {"\n", "-\n", ".\n", "1e5\n", "1.5E-3\n", "1234567890123456\n",
                           "0.1234567890123456\n", "nan\n"}) {
    EXPECT_EQ(scan_number(text, false).end, nullptr) << text;
  }
  EXPECT_EQ(*scan_number("5.\n", false).end, '\n');
  EXPECT_EQ(scan_number(".5\n", false).value, 0.5);
  EXPECT_EQ(*scan_number("1,5\n", false).end, ',') << "a comma separates";
  EXPECT_EQ(scan_number("1,5\n", true).value, 1.5) << "or is decimal";
}

TEST(NumberScan, SaysWhereACommaMayMarkThousands) {
  EXPECT_TRUE(scan_number("1,234;", true).thousands);
  for (const char* text : {"0,234;", "1,23;", "1,2345;", "1234,567;", "1.234;"}) {
    EXPECT_FALSE(scan_number(text, true).thousands) << text;
  }
}

TEST(Clock, ReadsHoursMinutesAndSeconds) {
  EXPECT_DOUBLE_EQ(read_clock("12:34:56.5").seconds, 45296.5);
  EXPECT_DOUBLE_EQ(read_clock("12:34:56,5").seconds, 45296.5);
  EXPECT_DOUBLE_EQ(read_clock("12:34:56:500").seconds, 45296.5);
  EXPECT_DOUBLE_EQ(read_clock("1:02.5").seconds, 62.5);
  EXPECT_DOUBLE_EQ(read_clock("12:00:01 AM").seconds, 1);
  EXPECT_DOUBLE_EQ(read_clock("1:00:00 pm").seconds, 46800);
  EXPECT_TRUE(read_clock("3:20").two_parts);
}

TEST(Clock, ReadsDatesBeforeIt) {
  const ClockCell iso = read_clock("2026-05-04T09:30:00.250Z");
  ASSERT_TRUE(iso.ok);
  EXPECT_TRUE(iso.date.year_first);
  EXPECT_DOUBLE_EQ(iso.seconds, 34200.25);
  EXPECT_TRUE(read_clock("04.05.2026 9:30:00").ok);
  EXPECT_TRUE(read_clock("5/4/26 9:30:00 AM").ok);
  EXPECT_TRUE(read_clock("2026-05-04 09:30:00+0200").ok);
}

TEST(Clock, RefusesWhatNoClockShows) {
  for (const char* text : {"", "12", "12:", "12:61:00", "12:00:61", "9:30:00 xm", "2026-05", "noon",
                           "13:00:00 PM", "2026-05-04T", "1:2:3:4:5", "-1:00:00", "12.5"}) {
    EXPECT_FALSE(read_clock(text).ok) << text;
  }
}

TEST(Clock, CountsDaysInBothOrders) {
  const auto day = [](DateCell d, DateOrder order) {
    std::int64_t days = -1;
    return days_of(d, order, days) ? days : -1;
  };
  EXPECT_EQ(day({1970, 1, 1, true}, DateOrder::day_first), 0);
  EXPECT_EQ(day({2000, 3, 1, true}, DateOrder::day_first), 11017);
  EXPECT_EQ(day({2026, 5, 4}, DateOrder::day_first), day({2026, 4, 5}, DateOrder::month_first));
  EXPECT_EQ(day({2026, 2, 29, true}, DateOrder::day_first), -1) << "2026 is no leap year";
  EXPECT_NE(day({2028, 2, 29, true}, DateOrder::day_first), -1);
  EXPECT_EQ(day({2026, 4, 13}, DateOrder::day_first), -1) << "there is no month 13";
}

TEST(Languages, LettersLoseTheirMarks) {
  EXPECT_EQ(folded("K\xC3\x9CHLMITTEL"), "kuhlmittel");
  EXPECT_EQ(folded("Pr\xC4\x99"
                   "dko\xC5\x9B\xC4\x87"),
            "predkosc");
  EXPECT_EQ(folded("gro\xC3\x9F"), "gross");
}

TEST(Languages, OneQuantityIsKnownByItsNameInManyLanguages) {
  for (const char* name : {"Drehzahl", "R\xC3\xA9gime moteur", "giri motore", "Revoluciones",
                           "Rota\xC3\xA7\xC3\xA3o", "Toerental", "Varvtal", "Obroty silnika"}) {
    const auto guesses = guess_by_name(name);
    ASSERT_FALSE(guesses.empty()) << name;
    EXPECT_EQ(guesses.front().what, Quantity::rpm) << name;
    EXPECT_NE(guesses.front().reason.find("\" is \"rpm\""), std::string::npos)
        << guesses.front().reason;
  }
}

TEST(Languages, WhatATurningWordSaysHoldsInThemToo) {
  const auto guesses = guess_by_name("Consigne richesse");
  for (const NameGuess& g : guesses) EXPECT_NE(g.what, Quantity::lambda);
}

}  // namespace
}  // namespace fuelwright::signals::clock_test
