// The tree keeps to docs/layers.txt; and the checker that says so does notice when a tree does not.
#include "layers.h"

#include <gtest/gtest.h>

#include <algorithm>

namespace fuelwright::house {
namespace {

/// Three invented layers: kitchen below, hall above it, roof on top; the garden's tests may look
/// into the roof.
constexpr const char* kInvented = R"(# invented
group base    :
group kitchen : base
group garden  : base
group hall    : base kitchen garden
group roof    : base kitchen garden hall
in-tests garden : roof
thing clock : <chrono> <sys/ steady_clock time(nullptr
thing noise : <iostream> cout exit(
only clock : kitchen/stove roof
only noise : roof *_test.cc
)";

std::vector<Breach> breaches(const std::string& path, const std::string& text,
                             const Names& beside = {}) {
  const auto layers = parse_layers(kInvented);
  EXPECT_TRUE(layers.ok()) << (layers ? "" : layers.error().line());
  return check_layers(*layers, {path, text}, beside);
}

std::string only_message(const std::vector<Breach>& found) {
  EXPECT_EQ(found.size(), 1u) << list(found);
  return found.empty() ? "" : found[0].text();
}

TEST(Layers, EveryFileOfTheTreeKeepsToThem) {
  const auto tree = read_tree(FUELWRIGHT_SOURCE_DIR);
  const auto page = std::ranges::find(tree, "docs/layers.txt", &SourceFile::path);
  ASSERT_NE(page, tree.end());
  const auto layers = parse_layers(page->text);
  ASSERT_TRUE(layers.ok()) << layers.error().line();

  const auto folder = [](const std::string& path) { return path.substr(0, path.rfind('/')); };
  std::map<std::string, Names> beside;
  for (const SourceFile& f : tree)
    beside[folder(f.path)].insert(f.path.substr(f.path.rfind('/') + 1));

  int looked_at = 0;
  std::vector<Breach> all;
  for (const SourceFile& f : tree) {
    if (!is_cpp(f.path)) continue;
    ++looked_at;
    const auto found = check_layers(*layers, f, beside[folder(f.path)]);
    all.insert(all.end(), found.begin(), found.end());
  }
  EXPECT_GT(looked_at, 15) << "hardly a file was read: is this the tree?";
  EXPECT_TRUE(all.empty()) << list(all);
}

TEST(Layers, TheEstimatorMayNotSeeTheTruthAndSignalsAndPhysicsDoNotKnowEachOther) {
  const auto tree = read_tree(FUELWRIGHT_SOURCE_DIR);
  const auto page = std::ranges::find(tree, "docs/layers.txt", &SourceFile::path);
  ASSERT_NE(page, tree.end());
  const auto layers = parse_layers(page->text);
  ASSERT_TRUE(layers.ok());
  const auto is_breach = [&](const char* path, const char* include) {
    return !check_layers(*layers, {path, std::string("#include \"") + include + "\"\n"}, {})
                .empty();
  };
  EXPECT_TRUE(is_breach("src/advice/map_estimate/estimate.cc", "sim/virtual_car/virtual_car.h"));
  EXPECT_FALSE(
      is_breach("src/advice/map_estimate/estimate_test.cc", "sim/virtual_car/virtual_car.h"));
  EXPECT_TRUE(is_breach("src/signals/channels/channel.cc", "physics/road/road.h"));
  EXPECT_TRUE(is_breach("src/physics/road/road.cc", "signals/channels/channel.h"));
  EXPECT_TRUE(is_breach("src/sim/virtual_car/truth.cc", "advice/map_estimate/estimate.h"));
  EXPECT_TRUE(is_breach("src/base/units/number.cc", "car/fuel/fuel.h"));
  EXPECT_TRUE(is_breach("src/service/service.h", "service/job/internal/store.h"));
  EXPECT_FALSE(is_breach("src/service/job/job.cc", "service/job/internal/store.h"));
}

TEST(Layers, AnArrowThatPointsUpIsABreach) {
  EXPECT_EQ(only_message(breaches("src/kitchen/pan.h", "#pragma once\n#include \"hall/door.h\"\n")),
            "src/kitchen/pan.h:2: kitchen may not include hall/door.h");
  EXPECT_TRUE(
      breaches("src/hall/door.h", "#include \"kitchen/pan.h\"\n#include \"hall/mat.h\"\n").empty());
}

TEST(Layers, AnArrowThatPointsSidewaysIsABreach) {
  EXPECT_EQ(breaches("src/kitchen/pan.cc", "#include \"garden/leek.h\"\n").size(), 1u);
}

TEST(Layers, AngleBracketsDoNotHideAnArrow) {
  EXPECT_EQ(breaches("src/kitchen/pan.cc", "  #  include <hall/door.h>\n").size(), 1u);
}

TEST(Layers, OnlyTestsHaveTheExtraOfTests) {
  const std::string text = "#include \"roof/view.h\"\n";
  EXPECT_TRUE(breaches("src/garden/leek_test.cc", text).empty());
  EXPECT_EQ(breaches("src/garden/leek.cc", text).size(), 1u);
  EXPECT_EQ(breaches("src/kitchen/pan_test.cc", text).size(), 1u);
}

TEST(Layers, AnInternalHeaderBelongsToItsModuleAlone) {
  const std::string text = "#include \"kitchen/stove/internal/flame.h\"\n";
  EXPECT_TRUE(breaches("src/kitchen/stove/stove.cc", text).empty());
  EXPECT_TRUE(breaches("src/kitchen/stove/internal/flame.cc", text).empty());
  EXPECT_EQ(only_message(breaches("src/hall/door.cc", text)),
            "src/hall/door.cc:1: kitchen/stove/internal/flame.h is internal to kitchen/stove");
}

TEST(Layers, AHeaderThatReadsTheClockMayStandInItsPlaceOnly) {
  const std::string text = "#include <chrono>\n";
  EXPECT_TRUE(breaches("src/kitchen/stove/timer.cc", text).empty());
  EXPECT_EQ(only_message(breaches("src/kitchen/pan.cc", text)),
            "src/kitchen/pan.cc:1: no clock here: <chrono>");
  EXPECT_EQ(breaches("src/kitchen/stove_two/timer.cc", text).size(), 1u)
      << "a longer name is another folder";
  EXPECT_EQ(breaches("src/kitchen/pan.cc", "#include <sys/timex.h>\n").size(), 1u);
}

TEST(Layers, AUseInTheCodeIsABreachAndAWordInACommentOrAMessageIsNone) {
  EXPECT_EQ(breaches("src/hall/a.cc", "auto t = std::chrono::steady_clock::now();\n").size(), 1u);
  EXPECT_EQ(breaches("src/hall/a.cc", "srand(time(nullptr));\n").size(), 1u);
  EXPECT_EQ(breaches("src/hall/a.cc", "  exit(3);\n  std::cout << 1;\n").size(), 2u);
  EXPECT_TRUE(
      breaches("src/hall/a.cc", "// exit(3)\n/* cout\n exit(1) */ const char* s = \"exit(2)\";\n")
          .empty());
  EXPECT_TRUE(
      breaches("src/hall/a.cc", "door.exit(3); door->exit(3); on_exit(3); int cout_of = 1'000;\n")
          .empty());
  EXPECT_EQ(breaches("src/hall/a.cc", "int n = 1'000; exit('\"'); // \"\n").size(), 1u);
  EXPECT_TRUE(breaches("src/hall/a_test.cc", "std::cout << 1;\n").empty());
}

TEST(Layers, AnIncludeInACommentOrARawStringIsNone) {
  EXPECT_TRUE(
      breaches("src/kitchen/pan.h",
               "// #include \"hall/door.h\"\nauto s = R\"x(\n#include \"hall/door.h\"\n)x\";\n")
          .empty());
}

TEST(Layers, ABareNameMustLieInTheSameFolder) {
  EXPECT_TRUE(breaches("src/kitchen/pan.cc", "#include \"lid.h\"\n", {"lid.h"}).empty());
  EXPECT_EQ(breaches("src/kitchen/pan.cc", "#include \"lid.h\"\n").size(), 1u);
  EXPECT_EQ(breaches("src/kitchen/pan.cc", "#include \"../hall/door.h\"\n").size(), 1u);
}

TEST(Layers, AFileOfNoGroupIsABreach) {
  EXPECT_EQ(breaches("src/cellar/wine.h", "int x;\n").size(), 1u);
}

TEST(Layers, APageThatContradictsItselfIsRefusedWithItsReason) {
  const auto refused = [](const char* text) {
    const auto layers = parse_layers(text);
    return layers ? std::string("accepted") : layers.error().line();
  };
  EXPECT_EQ(refused("group a b\n"), "layers.txt:1: came 'group a b', expected WORD NAME : LIST");
  EXPECT_EQ(refused("group a :\n\ngroop b :\n"), "layers.txt:3: unknown word 'groop'");
  EXPECT_EQ(refused("group a :\ngroup a :\n"), "layers.txt:2: group 'a' is there twice");
  EXPECT_EQ(refused("group a : c\n"), "layers.txt:0: unknown group 'c' below 'a'");
  EXPECT_EQ(refused("group a : b\ngroup b : a\n"), "layers.txt:0: 'a' includes itself in a circle");
  EXPECT_EQ(refused("thing x : y\n"), "layers.txt:0: no line says where 'x' may stand");
  EXPECT_EQ(refused("only x : y\n"), "layers.txt:0: unknown thing 'x'");
}

}  // namespace
}  // namespace fuelwright::house
