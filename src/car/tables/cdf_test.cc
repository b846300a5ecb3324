// ASAM CDF 2.0 in and out.
#include "car/tables/cdf.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <random>
#include <set>
#include <sstream>

namespace fuelwright::car::cdf_test {
namespace {

// A map of 2 by 2 nodes, its parts exchangeable.
struct Parts {
  std::string head = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>";
  std::string category = "MAP";
  std::string long_name = "";
  std::string x =
      "<UNIT-DISPLAY-NAME>1/min</UNIT-DISPLAY-NAME>"
      "<SW-VALUES-PHYS><V>1000</V><V>3000</V></SW-VALUES-PHYS>";
  std::string y =
      "<UNIT-DISPLAY-NAME>kPa</UNIT-DISPLAY-NAME>"
      "<SW-VALUES-PHYS><V>40</V><V>100</V></SW-VALUES-PHYS>";
  std::string values =
      "<VG><LABEL>40</LABEL><V>52</V><V>60</V></VG>"
      "<VG><LABEL>100</LABEL><V>70</V><V>85</V></VG>";
  std::string before = "";  // inside the instance, around its contents
  std::string after = "";
  std::string more = "";  // other instances

  std::string file() const {
    return head +
           "<MSRSW><SHORT-NAME>a</SHORT-NAME><CATEGORY>CDF20</CATEGORY><SW-SYSTEMS><SW-SYSTEM>"
           "<SHORT-NAME>e</SHORT-NAME><SW-INSTANCE-SPEC><SW-INSTANCE-TREE><SHORT-NAME>t</"
           "SHORT-NAME>"
           "<CATEGORY>NO_VCD</CATEGORY><SW-INSTANCE><SHORT-NAME>air.table</SHORT-NAME><LONG-NAME>" +
           long_name + "</LONG-NAME><CATEGORY>" + category + "</CATEGORY>" + before +
           "<SW-VALUE-CONT><UNIT-DISPLAY-NAME>%</UNIT-DISPLAY-NAME><SW-VALUES-PHYS>" + values +
           "</SW-VALUES-PHYS></SW-VALUE-CONT><SW-AXIS-CONTS><SW-AXIS-CONT>" + x +
           "</SW-AXIS-CONT><SW-AXIS-CONT>" + y + "</SW-AXIS-CONT></SW-AXIS-CONTS>" + after +
           "</SW-INSTANCE>" + more +
           "</SW-INSTANCE-TREE></SW-INSTANCE-SPEC></SW-SYSTEM></SW-SYSTEMS></MSRSW>";
  }
};

TextReading over_map() {
  TextReading reading;
  reading.load = AxisKind::map_absolute;
  return reading;
}

Result<ReadTable> table_in(const std::string& file, const TextReading& reading = over_map()) {
  FW_TRY(const auto all, read_cdf(file));
  return table_of(all.at(0), reading);
}

std::string error_in(const Parts& parts) {
  const auto t = table_in(parts.file());
  return t ? "no error" : t.error().line();
}

TEST(Cdf, AMapHasOneGroupPerLoadAndValuesAlongSpeed) {
  const auto t = table_in(Parts{}.file());
  ASSERT_TRUE(t) << t.error().line();
  EXPECT_EQ(t->surface.grid.x[1], 3000);
  EXPECT_EQ(t->surface.grid.y[1], 100e3);
  EXPECT_EQ(t->surface.node(1, 0), 0.60);
  EXPECT_EQ(t->surface.node(0, 1), 0.70);
  EXPECT_EQ(t->note, "values read as %");
}

TEST(Cdf, ValuesInAVariantAndMapsTurnedOrUpsideDownAreTheSameTable) {
  const auto plain = table_in(Parts{}.file());
  ASSERT_TRUE(plain);
  Parts variant;
  variant.before = "<SW-INSTANCE-PROPS-VARIANTS><SW-INSTANCE-PROPS-VARIANT>";
  variant.after = "</SW-INSTANCE-PROPS-VARIANT></SW-INSTANCE-PROPS-VARIANTS>";
  Parts turned;
  std::swap(turned.x, turned.y);
  turned.values = "<VG><V>52</V><V>70</V></VG><VG><V>60</V><V>85</V></VG>";
  Parts down;
  down.y =
      "<UNIT-DISPLAY-NAME>kPa</UNIT-DISPLAY-NAME>"
      "<SW-VALUES-PHYS><V>100</V><V>40</V></SW-VALUES-PHYS>";
  down.values = "<VG><V>70</V><V>85</V></VG><VG><V>52</V><V>60</V></VG>";
  Parts misspelt;
  misspelt.category = "MAPP";
  Parts labels;  // the y points stand in the labels alone
  labels.y = "<UNIT-DISPLAY-NAME>kPa</UNIT-DISPLAY-NAME>";
  Parts common;
  common.y = "<CATEGORY>COM_AXIS</CATEGORY><SW-INSTANCE-REF>loads</SW-INSTANCE-REF>";
  common.more =
      "<SW-INSTANCE><SHORT-NAME>loads</SHORT-NAME><CATEGORY>COM_AXIS</CATEGORY><SW-VALUE-CONT>"
      "<UNIT-DISPLAY-NAME>kPa</UNIT-DISPLAY-NAME><SW-VALUES-PHYS><V>40</V><V>100</V>"
      "</SW-VALUES-PHYS></SW-VALUE-CONT></SW-INSTANCE>";
  for (const Parts& p : {variant, turned, down, misspelt, labels, common}) {
    const auto t = table_in(p.file());
    ASSERT_TRUE(t) << t.error().line() << "\n" << p.file();
    EXPECT_EQ(t->surface, plain->surface) << p.file();
  }
}

TEST(Cdf, NumbersMayHaveBlanksAroundThemAndAnyLength) {
  Parts p;
  p.values =
      "<VG><V> 52\n</V><V>60.0000000000000000000000000000000000000000000000000</V></VG>"
      "<VG><V>7E1</V><VF>85</VF></VG>";
  const auto t = table_in(p.file());
  ASSERT_TRUE(t) << t.error().line();
  EXPECT_EQ(t->surface.values, (std::vector<double>{0.52, 0.60, 0.70, 0.85}));
}

TEST(Cdf, LatinOneNamesAreReadWhetherTheFileSaysSoOrNot) {
  for (const char* encoding : {"ISO-8859-1", "UTF-8"}) {
    Parts p;
    p.head = fmt::format("<?xml version=\"1.0\" encoding=\"{}\"?>", encoding);
    p.long_name = "F\xFCllung";
    const auto all = read_cdf(p.file());
    ASSERT_TRUE(all) << all.error().line();
    EXPECT_EQ((*all)[0].long_name, "F\xC3\xBCllung");
  }
}

TEST(Cdf, WhatTheLoadAxisMeansIsSaidByTheFileOrAsked) {
  const auto asked = table_in(Parts{}.file(), {});
  ASSERT_FALSE(asked);
  EXPECT_EQ(asked.error().code, ErrorCode::needs_answer);
  Parts p;
  p.long_name = "VE over engine speed and manifold vacuum";
  const auto t = table_in(p.file(), {});
  ASSERT_TRUE(t) << t.error().line();
  EXPECT_EQ(t->surface.grid.y.kind(), AxisKind::vacuum);
}

TEST(Cdf, WhatCannotBeATableIsOneLineThatNamesTheInstance) {
  Parts p;
  p.values =
      "<VG><LABEL>40</LABEL><V>52</V><V>60</V></VG><VG><LABEL>90</LABEL><V>7</V><V>8</V></VG>";
  EXPECT_EQ(error_in(p), "CDF air.table: group 2 is labelled 90, but its y point is 100");
  p = {};
  p.values = "<VG><V>52</V></VG><VG><V>70</V><V>85</V></VG>";
  EXPECT_EQ(error_in(p),
            "CDF air.table: its groups of values do not fit 2 x points and 2 y points");
  p = {};
  p.values = "<VG><V>52</V><V>6O</V></VG><VG><V>70</V><V>85</V></VG>";
  EXPECT_EQ(error_in(p), "CDF air.table: \"6O\" is not a number");
  p = {};
  p.values = "<VG><V>52</V><VT>60</VT></VG><VG><V>70</V><V>85</V></VG>";
  EXPECT_EQ(error_in(p), "CDF air.table: holds texts; expected numbers");
  p = {};
  p.category = "CURVE";
  EXPECT_NE(error_in(p).find("is no map"), std::string::npos);
  p = {};
  p.x =
      "<UNIT-DISPLAY-NAME>1/min</UNIT-DISPLAY-NAME><SW-VALUES-PHYS><V>1000</V><V>1000</V></"
      "SW-VALUES-PHYS>";
  EXPECT_NE(error_in(p).find("must increase"), std::string::npos);
  p = {};
  p.y =
      "<UNIT-DISPLAY-NAME>furlong</UNIT-DISPLAY-NAME><SW-VALUES-PHYS><V>40</V><V>100</V></"
      "SW-VALUES-PHYS>";
  EXPECT_NE(error_in(p).find("\"furlong\" is no unit for it"), std::string::npos);
  p = {};
  p.before = "<SW-INSTANCE-PROPS-VARIANTS><SW-INSTANCE-PROPS-VARIANT>";
  p.after = "</SW-INSTANCE-PROPS-VARIANT><SW-INSTANCE-PROPS-VARIANT/></SW-INSTANCE-PROPS-VARIANTS>";
  EXPECT_EQ(error_in(p), "CDF air.table: has several variants; expected one");
}

TEST(Cdf, DocumentTypesAndEntitiesAreNeverLoaded) {
  Parts p;
  p.head =
      "<!DOCTYPE MSRSW [<!ENTITY a \"60\"><!ENTITY b SYSTEM \"file:///etc/hostname\">"
      "<!ENTITY c \"&a;&a;&a;&a;\">]>";
  ASSERT_TRUE(table_in(p.file()));  // stepped over
  for (const char* entity : {"&a;", "&b;", "&c;"}) {
    p.values = fmt::format("<VG><V>52</V><V>{}</V></VG><VG><V>70</V><V>85</V></VG>", entity);
    EXPECT_EQ(error_in(p), fmt::format("CDF air.table: \"{}\" is not a number", entity));
  }
}

TEST(Cdf, DeepEmptyAndTornFilesAreOneClearLine) {
  std::string deep = "<MSRSW>";
  for (int i = 0; i < 200000; ++i) deep += "<a>";
  std::string closed = deep;
  for (int i = 0; i < 200000; ++i) closed += "</a>";
  const std::string whole = Parts{}.file();
  for (const std::string& file :
       {std::string(), std::string("no XML"), std::string("<a/>"), std::string("<MSRSW/>"), deep,
        closed + "</MSRSW>", whole.substr(0, whole.size() / 2), std::string("\xFF\xFE<\0M\0", 6),
        std::string(std::size_t{17} << 20U, ' '), std::string("<?xml"),
        std::string("<!DOCTYPE [")}) {
    const auto all = read_cdf(file);
    ASSERT_FALSE(all) << file.substr(0, 40);
    EXPECT_EQ(all.error().line().find('\n'), std::string::npos);
    EXPECT_LT(all.error().line().size(), 200U);
  }
}

// ---- out

Calibration any_calibration(AxisKind load, double low, double high, unsigned seed) {
  std::mt19937_64 random(seed);
  std::uniform_real_distribution<double> place(low, high);
  std::uniform_real_distribution<double> speed(300, 9000);
  std::uniform_real_distribution<double> value(0.5, 2.0);
  const auto axis = [&](AxisKind kind, std::uniform_real_distribution<double>& from) {
    std::set<double> points;
    while (points.size() < 1 + seed % 16) points.insert(from(random));
    return *Axis::make(kind, {points.begin(), points.end()});
  };
  Calibration out;
  for (const TableWhat what : {TableWhat::ve, TableWhat::lambda_target, TableWhat::correction}) {
    Surface s = Surface::flat({axis(AxisKind::engine_speed, speed), axis(load, place)}, 0);
    for (double& v : s.values) v = value(random);
    out.tables.emplace(what, std::move(s));
  }
  return out;
}

TEST(Cdf, EveryCalibrationReadsBackToTheSameDoublesAndMeaning) {
  for (unsigned seed = 0; seed < 40; ++seed) {
    for (const auto& [load, low, high] :
         {std::tuple{AxisKind::map_absolute, 0.0, 450e3},
          std::tuple{AxisKind::vacuum, -390e3, 104e3}, std::tuple{AxisKind::throttle, 0.0, 1.0}}) {
      const Calibration c = any_calibration(load, low, high, seed);
      const auto all = read_cdf(write_cdf(c));
      ASSERT_TRUE(all) << all.error().line();
      ASSERT_EQ(all->size(), 3U);
      Calibration back;
      for (const CdfInstance& i : *all) {
        TextReading reading;
        reading.what = *table_named(i.name);
        const auto t = table_of(i, reading);
        ASSERT_TRUE(t) << t.error().line();
        back.tables.emplace(reading.what, t->surface);
      }
      EXPECT_EQ(back, c);
    }
  }
  const Calibration c = any_calibration(AxisKind::throttle, 0, 1, 3);
  EXPECT_EQ(read_cdf(write_cdf(c, TableWhat::ve))->size(), 1U);
}

// The element order of the standard for what we write, as a document type of our own.
constexpr const char* kOrder = R"(<!ELEMENT MSRSW (SHORT-NAME, CATEGORY, SW-SYSTEMS)>
<!ELEMENT SW-SYSTEMS (SW-SYSTEM+)>
<!ELEMENT SW-SYSTEM (SHORT-NAME, SW-INSTANCE-SPEC)>
<!ELEMENT SW-INSTANCE-SPEC (SW-INSTANCE-TREE+)>
<!ELEMENT SW-INSTANCE-TREE (SHORT-NAME, CATEGORY, SW-INSTANCE*)>
<!ELEMENT SW-INSTANCE (SHORT-NAME, LONG-NAME?, DISPLAY-NAME?, CATEGORY, SW-FEATURE-REF?,
  SW-VALUE-CONT, SW-AXIS-CONTS?, SW-CS-HISTORY?, SW-CS-FLAGS?)>
<!ELEMENT SW-VALUE-CONT (UNIT-DISPLAY-NAME?, SW-ARRAYSIZE?, SW-VALUES-PHYS)>
<!ELEMENT SW-AXIS-CONTS (SW-AXIS-CONT+)>
<!ELEMENT SW-AXIS-CONT (CATEGORY, UNIT-DISPLAY-NAME?, SW-INSTANCE-REF?, SW-ARRAYSIZE?, SW-VALUES-PHYS?)>
<!ELEMENT SW-VALUES-PHYS (V | VT | VG)*>
<!ELEMENT VG (LABEL?, (V | VT | VG)*)>
<!ELEMENT SHORT-NAME (#PCDATA)> <!ELEMENT LONG-NAME (#PCDATA)> <!ELEMENT CATEGORY (#PCDATA)>
<!ELEMENT UNIT-DISPLAY-NAME (#PCDATA)> <!ELEMENT LABEL (#PCDATA)> <!ELEMENT V (#PCDATA)>
<!ELEMENT VT (#PCDATA)> <!ELEMENT DISPLAY-NAME (#PCDATA)> <!ELEMENT SW-FEATURE-REF (#PCDATA)>
<!ELEMENT SW-CS-HISTORY ANY> <!ELEMENT SW-CS-FLAGS ANY> <!ELEMENT SW-INSTANCE-REF (#PCDATA)>
<!ELEMENT SW-ARRAYSIZE (V*)>
)";

TEST(Cdf, AnIndependentReaderFindsTheElementsInTheOrderOfTheStandard) {
  if (std::system("xmllint --version >/dev/null 2>&1") != 0) GTEST_SKIP() << "no xmllint here";
  std::string folder = (std::filesystem::temp_directory_path() / "fuelwright_cdf_XXXXXX").string();
  ASSERT_NE(mkdtemp(folder.data()), nullptr);
  const auto check = [&](const std::string& text) {
    std::ofstream(folder + "/order.dtd") << kOrder;
    std::ofstream(folder + "/t.cdfx") << text;
    return std::system(("cd '" + folder +
                        "' && xmllint --nonet --noout --dtdvalid order.dtd t.cdfx "
                        ">/dev/null 2>&1")
                           .c_str());
  };
  std::string text = write_cdf(any_calibration(AxisKind::vacuum, 0, 90e3, 12));
  EXPECT_EQ(check(text), 0);
  const auto at = text.find("<CATEGORY>MAP</CATEGORY>");
  text.erase(at, std::string_view("<CATEGORY>MAP</CATEGORY>").size());
  EXPECT_NE(check(text), 0);  // the test can fail
  std::filesystem::remove_all(folder);
}

TEST(CdfOutside, TheFileOfAnotherWriterIsReadAsItsValuesSay) {
  const char* data = std::getenv("FUELWRIGHT_OUTSIDE_DATA");
  if (!data) GTEST_SKIP() << "FUELWRIGHT_OUTSIDE_DATA is not set";
  std::ifstream file(std::string(data) + "/vectors/min.cdfx");
  std::stringstream bytes;
  bytes << file.rdbuf();
  const auto all = read_cdf(bytes.str());
  ASSERT_TRUE(all) << all.error().line();
  ASSERT_EQ(all->size(), 3U);
  EXPECT_EQ((*all)[0].kind, CdfKind::value);
  EXPECT_EQ((*all)[0].values[0][0], "550");
  EXPECT_EQ((*all)[0].unit, "cm3/min");
  EXPECT_EQ((*all)[1].kind, CdfKind::curve);
  EXPECT_EQ((*all)[1].axes[0].values, (std::vector<std::string>{"8", "12", "16"}));
  EXPECT_EQ((*all)[2].name, "ve");
  const auto t = table_of((*all)[2], over_map());
  ASSERT_TRUE(t) << t.error().line();
  EXPECT_EQ(t->surface.grid.x[2], 6000);
  EXPECT_EQ(t->surface.values, (std::vector<double>{0.52, 0.60, 0.65, 0.70, 0.85, 0.90}));
}

}  // namespace
}  // namespace fuelwright::car::cdf_test
