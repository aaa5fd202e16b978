//! `panelwright rack fit`: from a file and a part's name to the remnants that take it.

use super::place::{change, to_read};
use crate::args::FitArgs;
use crate::aside::put_whole;
use crate::input::{KitFile, OrderFile, PartLine, bytes, json, parse};
use crate::job::{Job, Shop};
use crate::rack::{self, Fit, FitOptions, Rack};
use crate::read_job::{beside, shop_from_list};
use crate::{Failure, Result};
use jiff::Zoned;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

/// What was asked, apart from where the rack is.
struct Asked<'a> {
    file: &'a Path,
    part: Option<&'a str>,
    quantity: Option<u32>,
    roles: BTreeMap<String, String>,
    material: Option<&'a str>,
    route: &'a str,
    turn: &'a str,
}

/// Runs the command; returns the answer and what to print for people.
pub fn run(args: &FitArgs, now: &Zoned) -> Result<(Fit, String)> {
    let FitArgs {
        file,
        part,
        quantity,
        roles,
        material,
        route,
        turn,
        best,
        picture,
        hold,
        days,
        held_too,
        at,
    } = args;
    let asked = Asked {
        file,
        part: part.as_deref(),
        quantity: *quantity,
        roles: role_list(roles)?,
        material: material.as_deref(),
        route,
        turn,
    };
    let looked = to_read(at, now)?;
    let shop_file = json(&at.shop, "panelwright-shop-1")?;
    let shop = with_some_stock(shop_from_list(&shop_file, &at.shop)?, &looked.rack)?;
    let job = asked.job(shop, &at.shop)?;
    let options = FitOptions {
        best: *best,
        order: hold.clone(),
        held_too: *held_too,
    };
    let fit = rack::fit(&looked.rack, &job, &options, now)?;
    let mut text = fit.text();
    if let Some(path) = picture {
        match fit.picture() {
            Some(svg) => {
                put_whole(path, &svg)?;
                let _ = writeln!(text, "Drawn in {}", path.display());
            }
            None => text.push_str("There is nothing to draw.\n"),
        }
    }
    if let Some(order) = hold {
        let ids: Vec<String> = fit.best().iter().map(|t| t.remnant.clone()).collect();
        drop(looked);
        if !ids.is_empty() {
            let held = change(at, now, |rack, _| rack::hold(rack, &ids, order, *days, now))?;
            text += &held.text();
        }
    }
    Ok((fit, text))
}

fn role_list(roles: &[String]) -> Result<BTreeMap<String, String>> {
    let split = |text: &String| match text.split_once('=') {
        Some((role, material)) if !role.trim().is_empty() => {
            Ok((role.trim().to_owned(), material.trim().to_owned()))
        }
        _ => Err(Failure::new(
            "--role",
            format!("'{text}' fills no role"),
            "give ROLE=MATERIAL, such as body=composite-3-white",
        )),
    };
    roles.iter().map(split).collect()
}

/// The shop with its remnants only where it has no sheet of a material: there they tell what is too
/// large for everything.
fn with_some_stock(mut shop: Shop, rack: &Rack) -> Result<Shop> {
    let sold = |name: &str| shop.sheets.iter().any(|sheet| sheet.material == *name);
    let unsold: Vec<String> = shop
        .materials
        .iter()
        .map(|m| m.name.clone())
        .filter(|name| !sold(name))
        .collect();
    shop.remnants = if unsold.is_empty() {
        Vec::new()
    } else {
        let mut remnants = rack.remnants()?;
        remnants.retain(|r| unsold.contains(&r.material));
        remnants
    };
    Ok(shop)
}

impl Asked<'_> {
    fn job(&self, shop: Shop, shop_path: &Path) -> Result<Job> {
        let ending = self.file.extension().and_then(|e| e.to_str());
        if !ending.is_some_and(|e| e.eq_ignore_ascii_case("json")) {
            return self.of_drawing(shop, shop_path);
        }
        let content = bytes(self.file)?;
        let format = serde_json::from_slice::<Value>(&content)
            .ok()
            .and_then(|v| v["format"].as_str().map(str::to_owned));
        match format.as_deref() {
            Some("panelwright-kit-1") => {
                let kit: KitFile = json(self.file, "panelwright-kit-1")?;
                self.of_kit(kit, shop, shop_path)
            }
            _ => self.of_order(OrderFile::read(self.file)?, shop),
        }
    }

    /// An order as it is, or one part of its kits.
    fn of_order(&self, mut order: OrderFile, shop: Shop) -> Result<Job> {
        order.roles.extend(self.roles.clone());
        let Some(part) = self.part else {
            if self.quantity.is_some() {
                let advice = "name one with --part";
                return Err(Failure::new(
                    "--quantity",
                    "it counts copies of a part",
                    advice,
                ));
            }
            return Job::of_order(order, self.file, shop, Vec::new(), Vec::new());
        };
        let mut kits: Vec<String> = order.kits.iter().map(|line| line.kit.clone()).collect();
        kits.extend(order.parts.iter().map(|line| line.kit.clone()));
        kits.sort();
        kits.dedup();
        let mut names = Vec::new();
        let mut found = Vec::new();
        for kit in kits {
            let file: KitFile = json(&beside(self.file, &kit), "panelwright-kit-1")?;
            names.extend(file.parts.iter().map(|p| p.part.clone()));
            if file.parts.iter().any(|p| p.part == part) {
                found.push(kit);
            }
        }
        let [kit] = found.as_slice() else {
            let what = match found.len() {
                0 => format!("no kit of the order has a part '{part}'"),
                _ => format!("{} have a part '{part}'", found.join(" and ")),
            };
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            let advice = match found.len() {
                0 => crate::input::suggestion(part, &names),
                _ => "name the kit file instead of the order".to_owned(),
            };
            return Err(Failure::in_file(self.file, "--part", what, advice));
        };
        order.parts = vec![PartLine {
            kit: kit.clone(),
            part: part.to_owned(),
            quantity: self.quantity.unwrap_or(1),
            priority: 0,
        }];
        order.kits = Vec::new();
        Job::of_order(order, self.file, shop, Vec::new(), Vec::new())
    }

    /// One part of a kit, or the whole of it.
    fn of_kit(&self, kit: KitFile, shop: Shop, shop_path: &Path) -> Result<Job> {
        let name = self
            .file
            .file_name()
            .map(|n| n.to_string_lossy().into_owned());
        let name = name.unwrap_or_default();
        let is_asked = |name: &str| self.part.is_none_or(|part| part == name);
        let asked = kit.parts.iter().filter(|p| is_asked(&p.part));
        let mut roles = asked.filter_map(|p| p.role.as_ref());
        if let Some(role) = roles.find(|role| !self.roles.contains_key(*role)) {
            let what = format!("no material fills the role '{role}' of the kit");
            let names: Vec<&str> = shop.materials.iter().map(|m| m.name.as_str()).collect();
            let advice = format!(
                "give --role {role}=MATERIAL; the shop has {}",
                names.join(", ")
            );
            return Err(Failure::in_file(self.file, "--role", what, advice));
        }
        let quantity = self.quantity.unwrap_or(1);
        let lines = match self.part {
            Some(part) => json!({"parts": [{"kit": name, "part": part, "quantity": quantity}]}),
            None => json!({"kits": [{"kit": name, "quantity": quantity}]}),
        };
        let order = self.order(&lines, shop_path)?;
        Job::of_order(
            order,
            self.file,
            shop,
            Vec::new(),
            vec![(self.file.to_owned(), kit)],
        )
    }

    /// A drawing, as a kit of one part.
    fn of_drawing(&self, shop: Shop, shop_path: &Path) -> Result<Job> {
        let Some(material) = self.material else {
            let what = "a drawing does not say what it is cut from";
            let advice = "give --material, and --route where it is not routed";
            return Err(Failure::in_file(self.file, "", what, advice));
        };
        let name = self
            .file
            .file_name()
            .map(|n| n.to_string_lossy().into_owned());
        let name = name.unwrap_or_default();
        let part = self
            .file
            .file_stem()
            .map(|n| n.to_string_lossy().into_owned());
        let kit = json!({
            "format": "panelwright-kit-1", "kit": "drawing",
            "parts": [{"part": part, "quantity": 1, "material": material, "route": self.route,
                       "turn": self.turn, "drawing": name}],
        });
        let kit: KitFile = parse(Path::new("--route, --turn"), &kit.to_string())?;
        let quantity = self.quantity.unwrap_or(1);
        let lines = json!({"kits": [{"kit": name, "quantity": quantity}]});
        let order = self.order(&lines, shop_path)?;
        Job::of_order(
            order,
            self.file,
            shop,
            Vec::new(),
            vec![(self.file.to_owned(), kit)],
        )
    }

    fn order(&self, lines: &Value, shop_path: &Path) -> Result<OrderFile> {
        let mut order = lines.clone();
        order["format"] = "panelwright-order-1".into();
        order["order"] = "rack fit".into();
        order["shop"] = shop_path.display().to_string().into();
        order["roles"] = json!(self.roles);
        parse(self.file, &order.to_string())
    }
}
